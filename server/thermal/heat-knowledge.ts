import { analyseLockedRotor } from '../../src/analysis/locked-rotor.ts'
import { analyseZero } from '../../src/analysis/zero.ts'
import { InputFault } from '../../src/base/faults.ts'
import { motorEstimate } from '../../src/contract/motor-estimate.ts'
import type { ParameterName } from '../../src/records/parameter.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { readSignals, type ZeroOffsets } from '../../src/signals/run-signals.ts'
import { combineEstimates, type Estimate } from '../../src/statistics/weighted-mean.ts'
import type { HeatOrder } from '../../src/thermal/heat-order.ts'
import { coastConstants, type WarmConstant } from '../../src/thermal/magnet-weakening.ts'
import type { Store, StoredFit } from '../store/store.ts'

/** What the store knows beside a heating run. */
export interface HeatKnowledge
  extends Pick<
    HeatOrder,
    | 'motor'
    | 'brushDrop'
    | 'backEmfConstant'
    | 'torqueConstant'
    | 'dragNm'
    | 'frictionWatt'
    | 'warmConstants'
  > {
  readonly run: TestRun
  readonly zeros: ZeroOffsets
  /** Where it comes from, for whoever reads the result. */
  readonly notes: readonly string[]
}

/** A declared temperature of the magnets is believed to this. */
const DECLARED_KELVIN = 2
const ROOM_CELSIUS = 20

/** @param speed in use, rad/s; its friction heats the housing and is missing at the shaft */
export function heatKnowledge(store: Store, runId: number, speed: number): HeatKnowledge {
  const record = store.runs.get(runId)
  if (record.kind !== 'heating') {
    throw new InputFault(
      `run ${runId} is a ${record.kind} test; a heating run is needed, with the winding warmed and left to cool`,
    )
  }
  const fit = store.fits.latest(record.motorId) ?? null
  const others = store.runs.list({ motorId: record.motorId })
  const runsOf = (kind: string) =>
    others.filter(other => other.kind === kind).map(other => store.runs.testRun(other.id))
  const magnetCelsius = fit?.document.testTemperatureCelsius ?? ROOM_CELSIUS
  const constant = (name: 'backEmfConstant' | 'torqueConstant') => {
    const found = fit && parameterOf(fit, name)
    return found ? { ...found, magnetCelsius } : null
  }
  const drag = fit ? dragNm(fit, speed) : null
  if (speed > 0 && drag === null) {
    throw new InputFault(
      `--speed needs the friction: rotorfit fit --motor '${record.motorName}' first`,
    )
  }
  const zero = runsOf('zero').at(-1)
  const zeros = zero ? analyseZero(zero) : null
  return {
    run: store.runs.testRun(runId),
    motor: record.motorName,
    zeros: zeros?.ok ? zeros.value.offsets : {},
    notes: [
      fit
        ? `brush drop, k and friction from identification ${fit.id}`
        : 'not identified yet: no k and friction; brush drop from locked-rotor runs where there are any',
    ],
    brushDrop: fit ? fittedDrop(fit) : dropOfStalls(runsOf('locked-rotor')),
    backEmfConstant: constant('backEmfConstant'),
    torqueConstant: constant('torqueConstant'),
    dragNm: drag ?? 0,
    frictionWatt: (drag ?? 0) * speed,
    warmConstants: runsOf('coast-down').flatMap(warmConstantsOf),
  }
}

function parameterOf(fit: StoredFit, name: ParameterName): Estimate | null {
  const { names, values, covariance } = motorEstimate(fit.document)
  const at = names.indexOf(name)
  if (at < 0) return null
  return {
    value: values[at]!,
    standardUncertainty: Math.sqrt(covariance[at]![at]!),
    degreesOfFreedom: Number.POSITIVE_INFINITY,
  }
}

function fittedDrop(fit: StoredFit): HeatOrder['brushDrop'] {
  const drop = parameterOf(fit, 'brushDrop')
  return drop && { ...drop, kneeAmp: fit.document.model?.brushKneeAmp ?? 0 }
}

function dropOfStalls(runs: readonly TestRun[]): HeatOrder['brushDrop'] {
  const found = runs.flatMap(run => {
    const analysis = analyseLockedRotor(run)
    const chosen = analysis.ok ? analysis.value.stall?.chosen : null
    return chosen?.brushDrop ? [{ drop: chosen.brushDrop, kneeAmp: chosen.kneeAmp }] : []
  })
  if (found.length === 0) return null
  const knees = found.map(each => each.kneeAmp).sort((a, b) => a - b)
  return {
    ...combineEstimates(found.map(each => each.drop)),
    kneeAmp: knees[Math.floor(knees.length / 2)]!,
  }
}

function dragNm(fit: StoredFit, speed: number): number | null {
  const { names, values } = motorEstimate(fit.document)
  const value = (name: ParameterName) => (names.includes(name) ? values[names.indexOf(name)]! : 0)
  if (!names.includes('coulombTorque')) return null
  return (
    value('coulombTorque') +
    value('viscousCoefficient') * speed +
    value('windageCoefficient') * speed * speed
  )
}

/** k of a coast-down whose temperature at the start was said; it hardly changes while it coasts. */
function warmConstantsOf(run: TestRun): WarmConstant[] {
  const celsius = run.conditions.windingCelsius ?? run.conditions.ambientCelsius
  if (celsius === null) return []
  return coastConstants(readSignals(run)).map(({ constant }) => ({
    celsius,
    celsiusUncertainty: DECLARED_KELVIN,
    constant: { ...constant, value: Math.abs(constant.value) },
  }))
}
