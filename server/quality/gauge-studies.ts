import type { StudiedQuantity } from '../../src/quality/batch-comparison.ts'
import { analyseGaugeStudy } from '../../src/quality/gauge-study.ts'
import { readingOf } from '../../src/quality/judged-quantity.ts'
import type { MotorType } from '../../src/records/motor.ts'
import type { Store } from '../store/store.ts'

/**
 * Every complete gauge study on motors of a type, for the quantities asked for. `only`: the study of this name
 * alone.
 */
export function gaugeStudies(
  store: Store,
  type: MotorType,
  quantities: readonly string[],
  only: string | null = null,
): StudiedQuantity[] {
  const names = only === null ? store.gaugeTrials.studies() : [only]
  return names.flatMap(study => {
    const trials = store.gaugeTrials
      .ofStudy(study)
      .map(trial => ({ trial, motor: store.motors.get(trial.motorId) }))
    if (trials.some(({ motor }) => motor.typeId !== type.id)) return []
    const fits = trials.map(({ trial }) => store.fits.get(trial.fitId).document)
    return quantities.flatMap((quantity): StudiedQuantity[] => {
      const first = fits[0] && readingOf(fits[0], quantity)
      const readings = fits.map(fit => readingOf(fit, quantity, first?.atVolt ?? null))
      if (!first || readings.some(reading => reading === null)) return []
      const result = analyseGaugeStudy(
        trials.map(({ trial, motor }, i) => ({
          part: motor.name,
          operator: trial.operator,
          value: readings[i]!.value,
        })),
      )
      // A study that is still being made says nothing yet.
      return result.ok
        ? [{ study, quantity, label: first.label, unit: first.unit, result: result.value }]
        : []
    })
  })
}

/** What a study lacks, in words; empty where it lacks nothing. */
export function studyFault(store: Store, study: string): string {
  const result = analyseGaugeStudy(
    store.gaugeTrials.ofStudy(study).map(trial => ({
      part: store.motors.get(trial.motorId).name,
      operator: trial.operator,
      value: 0,
    })),
  )
  return result.ok ? '' : result.error.text
}
