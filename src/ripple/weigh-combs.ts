import { combsOf, isLocated, rangeOf } from './comb-hypotheses.ts'
import type { EmfCourse } from './emf-course.ts'
import type { CombCandidate, Hint } from './find-comb.ts'
import type { RippleSettings } from './ripple-settings.ts'
import type { SpeedLevel } from './speed-levels.ts'
import type { SteadyEvidence } from './steady-evidence.ts'

/** Of the candidates, so many are looked at beside the switching: with the constant known roughly, and without. */
const MOST_WEIGHED = 12
const MOST_WEIGHED_ANYWHERE = 8
/** No evidence makes up for so much. */
const HOPELESS = 60
/**
 * What stands out beside the switching is partly what the lines have told before, where all rates are tried; set on seeded cases, as the
 * leads are.
 */
const EVIDENCE_WORTH = 0.7
/** … and more so where they told how the speed rises and falls, too. */
const EVIDENCE_WORTH_BY_LINES = 0.5

/** Candidates by how far their lines stand out beside the switching, too, and by what is known of the constant. */
export function weighed(
  found: readonly CombCandidate[],
  settings: RippleSettings,
  evidence: readonly SteadyEvidence[],
  { rateHz, emfFrom }: EmfCourse,
): readonly CombCandidate[] {
  const evidenceOf = ({ comb, levels }: CombCandidate) =>
    Math.max(0, ...evidence.map(one => one.of(levels[0]!.turnRate / rateHz, comb)))
  const totalled = (
    of: readonly CombCandidate[],
    gains: (candidate: CombCandidate) => { evidence: number; prior: number },
  ) =>
    of
      .map(candidate => {
        const { evidence, prior } = gains(candidate)
        return { ...candidate, evidence, total: candidate.total + evidence + prior }
      })
      .sort((a, b) => b.total - a.total)
  const isCounted = settings.ripplesPerTurn !== null
  if (settings.backEmfConstant !== null) {
    const prior = ({ turnsPerVoltSec }: CombCandidate) => logPrior(turnsPerVoltSec, settings)
    if (!isCounted) return totalled(found, one => ({ evidence: 0, prior: prior(one) }))
    return totalled(found.slice(0, MOST_WEIGHED), one => ({
      evidence: evidenceOf(one),
      prior: prior(one),
    }))
  }
  if (!isCounted) return found
  const least = (found[0]?.total ?? 0) - HOPELESS
  const near = found.slice(0, MOST_WEIGHED_ANYWHERE).filter(({ total }) => total > least)
  const worth = emfFrom === 'lines' ? EVIDENCE_WORTH_BY_LINES : EVIDENCE_WORTH
  return totalled(near, one => ({ evidence: worth * evidenceOf(one), prior: 0 }))
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
