import { seededNormal, seededUniform } from '../../src/base/random.ts'
import {
  type DecisionRule,
  decide,
  type ToleranceBand,
  type Verdict,
} from '../../src/quality/conformity.ts'

/** Quantities a lot is judged by, their tolerance and how well a short test knows them, as shares of nominal. */
export const LOT_QUANTITIES = [
  { name: 'resistance', tolerance: 0.1, motorSpread: 0.02, testUncertainty: 0.012 },
  { name: 'backEmfConstant', tolerance: 0.05, motorSpread: 0.01, testUncertainty: 0.003 },
  { name: 'coulombTorque', tolerance: 0.25, motorSpread: 0.05, testUncertainty: 0.02 },
] as const

export interface LotCounts {
  readonly lots: number
  readonly motors: number
  /** Motors with one quantity a full limit-to-limit width from nominal, by that quantity, and how many failed. */
  readonly bad: Readonly<Record<string, { readonly made: number; readonly failed: number }>>
  /** Good motors on a limit's edge: the worst case of a false alarm. */
  readonly edge: { readonly judged: number; readonly failed: number }
  /** All other good motors. */
  readonly good: { readonly judged: number; readonly failed: number; readonly undecided: number }
}

const BAND = (tolerance: number): ToleranceBand => ({ lower: 1 - tolerance, upper: 1 + tolerance })

/**
 * Lots of twenty at the level of identified values: true values around nominal, one motor of each lot with
 * one quantity a full limit-to-limit width off, one whose resistance lies exactly on its upper limit; each
 * value measured once with its uncertainty, normal. Seeded.
 */
export function simulateLots(lots: number, seed: number, rule: DecisionRule): LotCounts {
  const uniform = seededUniform(seed)
  const normal = seededNormal(uniform)
  const bad: Record<string, { made: number; failed: number }> = {}
  const edge = { judged: 0, failed: 0 }
  const good = { judged: 0, failed: 0, undecided: 0 }
  for (let lot = 0; lot < lots; lot++) {
    const odd = LOT_QUANTITIES[Math.floor(uniform() * LOT_QUANTITIES.length)]!
    const side = uniform() < 0.5 ? -1 : 1
    for (let motor = 0; motor < 20; motor++) {
      const verdicts = LOT_QUANTITIES.map((q): Verdict => {
        const wide = motor === 0 && q === odd
        const onEdge = motor === 1 && q.name === 'resistance'
        // Drawn within the limits: a good motor is one that conforms.
        const own =
          Math.max(-1, Math.min(1, (q.motorSpread * normal()) / q.tolerance)) * q.tolerance
        const truth = 1 + (wide ? side * 2 * q.tolerance : onEdge ? q.tolerance : own)
        const value = truth + q.testUncertainty * normal()
        return decide({ value, standardUncertainty: q.testUncertainty }, BAND(q.tolerance), rule)
      })
      const isFailed = verdicts.includes('fail')
      if (motor === 0) {
        const count = bad[odd.name] ?? { made: 0, failed: 0 }
        bad[odd.name] = {
          made: count.made + 1,
          failed: count.failed + (isFailed ? 1 : 0),
        }
      } else if (motor === 1) {
        edge.judged++
        if (verdicts[0] === 'fail') edge.failed++
      } else {
        good.judged++
        if (isFailed) good.failed++
        else if (verdicts.includes('undecided')) good.undecided++
      }
    }
  }
  return { lots, motors: 20 * lots, bad, edge, good }
}
