import type { BenchCheck } from '../../src/quality/batch-comparison.ts'
import { checkChart } from '../../src/quality/check-motor.ts'
import { readingOf } from '../../src/quality/judged-quantity.ts'
import type { Store } from '../store/store.ts'

/** A check older than a shift and a night says little of today. Common practice, no source. */
const STALE_HOURS = 24

/** One entry a check motor and rig, of the quantities asked for. `at`: ISO 8601, now. */
export function benchChecks(store: Store, quantities: readonly string[], at: string): BenchCheck[] {
  return store.checkMeasurements.motors().flatMap(id => checksOfMotor(store, id, quantities, at))
}

export function checksOfMotor(
  store: Store,
  motorId: number,
  quantities: readonly string[],
  at: string,
): BenchCheck[] {
  const motor = store.motors.get(motorId)
  const all = store.checkMeasurements.ofMotor(motorId).map(measurement => {
    const fit = store.fits.get(measurement.fitId)
    const run = fit.runIds[0]
    return {
      ...measurement,
      document: fit.document,
      rig: run === undefined ? null : (store.runs.get(run).rig?.serialNumber ?? null),
    }
  })
  return [...new Set(all.map(each => each.rig))].map(rig => {
    const own = all.filter(each => each.rig === rig)
    const newest = own.at(-1)!
    const charts = quantities.flatMap(quantity => {
      const last = readingOf(newest.document, quantity)
      if (!last) return []
      const values = own.flatMap(
        each => readingOf(each.document, quantity, last.atVolt)?.value ?? [],
      )
      return [checkChart({ quantity, label: last.label, unit: last.unit }, values)]
    })
    const bench = rig === null ? 'the bench' : `the bench with rig ${rig}`
    const hours = (Date.parse(at) - Date.parse(newest.measuredAt)) / 3_600_000
    return {
      motor: motor.name,
      rig,
      measuredAt: newest.measuredAt,
      operator: newest.operator,
      charts,
      warnings: [
        ...charts
          .filter(chart => chart.drift !== '')
          .map(
            chart =>
              `${bench} has drifted, look at it before any sample is failed: ${chart.drift} ('${motor.name}')`,
          ),
        ...(hours > STALE_HOURS
          ? [
              `check motor '${motor.name}' was last measured on ${bench} ${daysText(hours)} ago: measure it at the start of the shift`,
            ]
          : []),
      ],
    }
  })
}

function daysText(hours: number): string {
  const days = Math.floor(hours / 24)
  return days === 1 ? 'a day' : `${days} days`
}
