import type { FitDocument } from '../contract/fit-document.ts'
import type { FittedTerms } from './fit-members.ts'
import { LEVELS, type Level } from './robust-covariance.ts'

/**
 * How well the fit describes the runs: χ² against the channels' own noise, and whether what is left
 * over is noise at all.
 */
export function goodnessOf(fit: FittedTerms): FitDocument['goodness'] {
  const { model, minimum, covariance } = fit
  const levels = model.members.map(member => member.noise)
  // The channels' own noise, nothing added for ripple and rough friction.
  model.members.forEach((member, r) => {
    const own = { ripple: 0, openRipple: 0, resistanceRipple: 0, torque: 0, torqueRipple: 0 }
    member.noise = { ...levels[r]!, ...own, currentFactor: 1, speedFactor: 1 }
  })
  model.clip = Number.POSITIVE_INFINITY
  model.setGains(minimum.point)
  const { cost, readings } = model.evaluate(minimum.point, false)
  model.members.forEach((member, r) => {
    member.noise = levels[r]!
  })
  const degreesOfFreedom = Math.max(1, readings - model.size)
  return {
    degreesOfFreedom,
    reducedChiSquare: cost / degreesOfFreedom,
    lackOfFit: covariance?.misfit ? misfitText(fit) : 'none found: what is left over is noise',
  }
}

const WITHIN: Readonly<Record<Level, string>> = {
  cell: 'over neighbouring samples',
  span: 'within a step of the voltage',
  run: 'within a run',
  speed: 'at like speeds',
  current: 'at like currents',
}

function misfitText(fit: FittedTerms): string {
  const { findings } = fit.covariance!
  const found = LEVELS.filter(level => findings[level].p < 1e-3)
  const strongest = found.reduce((a, b) => (ratio(a) >= ratio(b) ? a : b))
  function ratio(level: Level): number {
    return findings[level].chiSquare / findings[level].degreesOfFreedom
  }
  return (
    `residuals hang together ${found.map(level => WITHIN[level]).join(', ')}, ` +
    `most of all ${WITHIN[strongest]} (${ratio(strongest).toFixed(1)} times what chance gives); ` +
    'the uncertainties allow for it'
  )
}
