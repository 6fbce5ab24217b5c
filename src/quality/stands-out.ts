import type { QuantityVerdict } from './quantity-verdict.ts'

/** A departure worth a word even within the limits. */
const NOTABLE_SHARE = 0.1

/**
 * What a departure of a quantity points to on a brushed motor, for each direction. Common practice, no
 * source: a place to look, not a finding.
 */
const POINTS_TO: Readonly<Record<string, { above: string; below: string }>> = {
  resistance: {
    above: 'brush contact, a bad joint or an open coil',
    below: 'another winding, or turns shorted',
  },
  inductance: { above: 'another winding', below: 'turns shorted, or another winding' },
  backEmfConstant: {
    above: 'another winding or stronger magnets',
    below: 'weak magnets, or another winding',
  },
  torqueConstant: {
    above: 'another winding or stronger magnets',
    below: 'weak magnets, or another winding',
  },
  brushDrop: { above: 'brushes or commutator', below: 'other brushes' },
  coulombTorque: { above: 'brushes or bearings', below: 'brush pressure too low' },
  viscousCoefficient: { above: 'bearings or grease', below: 'other grease, or none' },
  staticTorque: { above: 'a tight spot or cogging', below: 'brush pressure too low' },
  inertia: { above: 'another rotor', below: 'another rotor' },
  noLoadCurrent: { above: 'friction', below: 'less friction than the reference' },
  startingVoltage: { above: 'a tight spot, cogging or brushes', below: 'brush pressure too low' },
  speedDifference: { above: 'brushes off the neutral zone', below: 'brushes off the neutral zone' },
  currentDifference: {
    above: 'friction in one direction, or brushes off the neutral zone',
    below: 'friction in one direction, or brushes off the neutral zone',
  },
  resistanceScatter: { above: 'a bad segment or uneven coils', below: 'evener than the reference' },
  noLoadSpeed: { above: 'weak magnets', below: 'friction, or another winding' },
}

/** Words on what departs from the reference: failures and doubts first, then notable departures. */
export function whatStandsOut(quantities: readonly QuantityVerdict[]): string[] {
  return quantities
    .flatMap(q => {
      if (q.value === null || q.nominal === null || q.nominal === 0) return []
      const share = (q.value - q.nominal) / Math.abs(q.nominal)
      const isTold = Math.abs(share) * Math.abs(q.nominal) > 2 * (q.standardUncertainty ?? 0)
      if (!isTold || (q.verdict === 'pass' && Math.abs(share) < NOTABLE_SHARE)) return []
      return [{ q, share }]
    })
    .sort((a, b) => rank(b.q) - rank(a.q) || Math.abs(b.share) - Math.abs(a.share))
    .map(({ q, share }) => {
      const hint = POINTS_TO[q.quantity]
      const direction = share > 0 ? 'above' : 'below'
      const points = hint ? `: ${hint[direction]}` : ''
      return `${q.label} ${percent(share)} ${direction} the reference${points}`
    })
}

const rank = (q: QuantityVerdict): number => ({ fail: 2, undecided: 1, pass: 0 })[q.verdict]

function percent(share: number): string {
  const magnitude = Math.abs(100 * share)
  return `${magnitude < 10 ? magnitude.toFixed(1) : magnitude.toFixed(0)} %`
}
