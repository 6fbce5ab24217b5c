import { failure, type Result, success } from '../base/result.ts'
import type { FitDocument } from '../contract/fit-document.ts'
import { PHASE } from '../motor/prepared-run.ts'
import { RunObserver } from '../motor/run-observer.ts'
import { PARAMETER_FACTS, type ParameterName } from '../records/parameter.ts'
import type { TestRun } from '../records/test-run.ts'
import { type RunSignals, readSignals } from '../signals/run-signals.ts'
import { modelPoint } from './model-point.ts'
import { isLocked, prepareRun } from './prepare/prepare-run.ts'

/** What the fitted motor does, one value a sample of the run; NaN where nothing is predicted. */
export interface SimulatedColumns {
  readonly current: Float64Array | null
  readonly speed: Float64Array | null
  /** Only while the terminals are open: there the voltage follows from the speed. */
  readonly voltage: Float64Array | null
}

/**
 * Lets a fitted motor run under the measured voltage of a run (under its current where it has no
 * voltage), from the state in which the run began. Nothing measured corrects it on the way: what is
 * left between it and the run is the model's whole error. Fails with the reason in words.
 */
export function simulateRun(fit: FitDocument, run: TestRun): Result<SimulatedColumns, string> {
  if (run.recording.timeSec === null) {
    return failure('Steady readings have no course in time to lay a curve over.')
  }
  const signals = readSignals(run)
  if (!signals.voltage && !signals.current) {
    return failure('The run has neither voltage nor current to drive the fitted motor with.')
  }
  const missing = neededBy(signals).filter(name => fit.parameters[name].value === null)
  if (missing.length > 0) {
    const names = missing.map(name => PARAMETER_FACTS[name].label.toLowerCase()).join(', ')
    return failure(`The fit has not determined what this run needs: ${names}.`)
  }
  const referenceCelsius = fit.referenceTemperatureCelsius
  const prepared = prepareRun(signals, { merge: false, referenceCelsius })
  const observer = new RunObserver(
    prepared,
    { coordinates: [], tied: true },
    { referenceCelsius, magnetPerKelvin: 0 },
  )
  // The gains of a new observer are nil: it predicts and never corrects.
  observer.evaluate(modelPoint(fit), {
    slopes: false,
    clip: Number.POSITIVE_INFINITY,
    cells: false,
  })
  const column = () => new Float64Array(signals.count).fill(Number.NaN)
  const current = signals.current ? column() : null
  const speed = signals.speed ? column() : null
  const voltage = signals.voltage ? column() : null
  for (let k = 0; k < prepared.stepCount; k++) {
    const at = prepared.sampleOf[k]!
    const phase = prepared.phase[k]!
    const first = observer.predictions[2 * k]!
    if (speed) speed[at] = observer.predictions[2 * k + 1]!
    if (phase === PHASE.driven && current) current[at] = first
    if (phase === PHASE.open) {
      if (voltage) voltage[at] = first
      if (current) current[at] = 0
    }
  }
  return success({ current, speed, voltage })
}

function neededBy(signals: RunSignals): ParameterName[] {
  const winding: ParameterName[] = signals.voltage ? ['resistance', 'backEmfConstant'] : []
  return isLocked(signals) ? winding : [...winding, 'torqueConstant', 'inertia']
}
