import { scoreProducts } from './comb.ts'
import { combsOf, isLocated, rangeOf } from './comb-hypotheses.ts'
import type { EmfCourse } from './emf-course.ts'
import type { CombCandidate, Hint } from './find-comb.ts'
import type { RippleSettings } from './ripple-settings.ts'
import type { SpeedLevel } from './speed-levels.ts'
import type { SteadyEvidence } from './steady-evidence.ts'

/** Lines of noise gather less than this beside the switching … */
const OUTSTANDING = 13
/** … for a comb that the heights of its lines do not speak against by more. */
const LEAST_TOTAL = -2

/**
 * Whether a comb of which the switching hides much, or of which few lines rise far, is seen all the same: by how far its lines
 * stand out together over a whole stretch.
 */
export function standsOut(
  { comb, levels, total }: CombCandidate,
  evidence: readonly SteadyEvidence[],
  rateHz: number,
): boolean {
  if (total < LEAST_TOTAL) return false
  return evidence.some(one => one.of(levels[0]!.turnRate / rateHz, comb) > OUTSTANDING)
}

/** Of the candidates, so many are looked at beside the switching. */
const MOST_WEIGHED = 12

/** Part that products with the switching count for where nothing narrows the search. */
const PRODUCTS_WORTH = 0.5

/**
 * Where the constant is known roughly, candidates by how far their lines stand out beside the switching, too. Among octaves that
 * tells nothing: a multiple of a comb may hold more of the winding's orders than the comb itself. Where it is not known, rates
 * of all sizes are tried, and among the many lines beside the switching some meet products of a wrong one by chance.
 */
export function weighed(
  found: readonly CombCandidate[],
  settings: RippleSettings,
  evidence: readonly SteadyEvidence[],
  rateHz: number,
): readonly CombCandidate[] {
  if (settings.backEmfConstant === null) {
    return found
      .map(candidate => {
        const { comb, levels, total } = candidate
        const fits = levels.flatMap(({ fit }) => (fit === null ? [] : [fit]))
        return { ...candidate, total: total - (1 - PRODUCTS_WORTH) * scoreProducts(fits, comb) }
      })
      .sort((a, b) => b.total - a.total)
  }
  return found
    .slice(0, isLocated(settings) ? MOST_WEIGHED : found.length)
    .map(candidate => {
      const { turnsPerVoltSec, comb, levels } = candidate
      const seen = isLocated(settings)
        ? evidence.map(one => one.of(levels[0]!.turnRate / rateHz, comb))
        : []
      const known = logPrior(turnsPerVoltSec, settings)
      return { ...candidate, total: candidate.total + Math.max(0, ...seen) + known }
    })
    .sort((a, b) => b.total - a.total)
}

/** Where a constant is known roughly, the rates for which each stretch speaks most. */
export function hintsOf(
  evidence: readonly SteadyEvidence[],
  { emfVolt }: SpeedLevel,
  { rateHz }: EmfCourse,
  settings: RippleSettings,
): Hint[] {
  if (!isLocated(settings)) return []
  const { lowest, highest } = rangeOf(settings)
  const scale = emfVolt / rateHz
  return combsOf(settings).flatMap(comb =>
    evidence.map(one => {
      const prior = (turns: number) => logPrior(turns / scale, settings)
      const { turnsPerSample } = one.best([lowest * scale, highest * scale], comb, prior)
      return { comb, turnRate: turnsPerSample * rateHz }
    }),
  )
}

/** ln of what is known of the constant, 0 at its likeliest. */
function logPrior(turnsPerVoltSec: number, { backEmfConstant }: RippleSettings): number {
  if (backEmfConstant === null) return 0
  const { value, standardUncertainty } = backEmfConstant
  return (
    -0.5 * ((Math.log(2 * Math.PI * turnsPerVoltSec * value) * value) / standardUncertainty) ** 2
  )
}
