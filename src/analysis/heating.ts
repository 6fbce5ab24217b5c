import { failure, type Result, success } from '../base/result.ts'
import { COPPER_ZERO_CELSIUS } from '../motor/winding-temperature.ts'
import type { TestRun } from '../records/test-run.ts'
import { type RunSignals, readSignals, type ZeroOffsets } from '../signals/run-signals.ts'
import { correlatedMean } from '../statistics/autocorrelation-time.ts'
import { fitCurve } from './curve-fit.ts'
import {
  type AnalysisFault,
  type KnownParameters,
  type Measured,
  measured,
  type TestAnalysis,
} from './result.ts'

export interface HeatingAnalysis extends TestAnalysis {
  readonly kind: 'heating'
  readonly coldOhm: number
  readonly hotOhm: number
  /** Mean rise of the winding from the first readings to the last. */
  readonly riseKelvin: number
}

const BLOCKS = 200
/** First and last share of the blocks that stand for cold and hot. */
const END_SHARE = 0.04

/**
 * A heating test: R(t) = (v − V_b − k_e ω)/i, and the winding's mean temperature from
 *   ΔT = (R₂/R₁ − 1)(τ + T₁), τ = 234.5 K
 * T₁ from the run's conditions (the reference 20 degC where nobody said). A single exponential over time gives
 * the resistance at the very start and the time constant of the winding, where it shows.
 * Source: IEC 60034-1, resistance method (from memory); worked examples in test/analysis/heating.test.ts.
 */
export function analyseHeating(
  run: TestRun,
  known: KnownParameters = {},
  zeros: ZeroOffsets = {},
): Result<HeatingAnalysis, AnalysisFault> {
  const signals = readSignals(run, zeros)
  if (!signals.voltage || !signals.current) {
    return fault('missing-channel', 'a heating test needs voltage and current channels')
  }
  const turning =
    signals.speed !== null && signals.speed.reach > Math.max(6 * signals.speed.noise, 0.5)
  if (turning && !known.backEmfConstant) {
    return fault(
      'no-usable-data',
      'the shaft turns: add a coast-down or free run, which give k_e, or lock it',
    )
  }
  const course = resistanceCourse(signals, known)
  if (course.ohm.length < 2) {
    return fault('no-usable-data', 'fewer than two readings with current flowing')
  }
  const share = Math.max(1, Math.round(END_SHARE * course.ohm.length))
  const exponential = exponentialOf(course)
  const cold = exponential ? exponential.start : meanOf(course.ohm.subarray(0, share))
  const hot = meanOf(course.ohm.subarray(course.ohm.length - share))
  const startCelsius = run.conditions.windingCelsius ?? run.conditions.ambientCelsius ?? 20
  const base = COPPER_ZERO_CELSIUS + startCelsius
  const rise = (hot.value / cold.value - 1) * base
  const relative = Math.hypot(hot.sigma / hot.value, cold.sigma / cold.value)
  const values: Record<string, Measured> = {
    resistanceCold: measured('ohm', cold.value, cold.sigma),
    resistanceHot: measured('ohm', hot.value, hot.sigma),
    temperatureRise: measured('K', rise, (relative * base * hot.value) / cold.value),
  }
  if (exponential) {
    values.windingTimeConstant = measured('s', exponential.tau.value, exponential.tau.sigma)
  }
  return success({
    kind: 'heating',
    method: 'rise of the winding from its resistance, copper',
    coldOhm: cold.value,
    hotOhm: hot.value,
    riseKelvin: rise,
    values,
    fitted: {},
    warnings:
      run.conditions.windingCelsius === null && run.conditions.ambientCelsius === null
        ? [
            {
              code: 'assumed-temperature',
              text: 'nobody said how warm the winding was at the start; 20 degC is taken',
            },
          ]
        : [],
  })
}

interface Course {
  /** Middle of each block, from the first sample. */
  readonly sec: Float64Array | null
  readonly ohm: Float64Array
}

function resistanceCourse(signals: RunSignals, known: KnownParameters): Course {
  const { voltage, current, speed, timeSec, count } = signals
  const drop = known.brushDrop?.value ?? 0
  const k = known.backEmfConstant?.value ?? 0
  const flows = Math.max(0.1 * current!.reach, 6 * current!.noise)
  const block = timeSec ? Math.max(1, Math.floor(count / BLOCKS)) : 1
  const sec: number[] = []
  const ohm: number[] = []
  for (let from = 0; from + block <= count; from += block) {
    let [volts, amps, used, time] = [0, 0, 0, 0]
    for (let i = from; i < from + block; i++) {
      const amp = current!.values[i]!
      const net = voltage!.values[i]! - drop * Math.sign(amp) - (speed ? k * speed.values[i]! : 0)
      if (!(Math.abs(amp) > flows) || Number.isNaN(net)) continue
      volts += net * Math.sign(amp)
      amps += Math.abs(amp)
      time += timeSec ? timeSec[i]! - timeSec[0]! : 0
      used++
    }
    if (used < block / 2) continue
    ohm.push(volts / amps)
    sec.push(time / used)
  }
  return { sec: timeSec ? Float64Array.from(sec) : null, ohm: Float64Array.from(ohm) }
}

/** R(t) = R_∞ − (R_∞ − R₀) exp(−t/τ); null where a run is too short to show it. */
function exponentialOf({ sec, ohm }: Course) {
  if (!sec || ohm.length < 20) return null
  const first = ohm[0]!
  const last = ohm[ohm.length - 1]!
  const length = sec[sec.length - 1]! - sec[0]!
  if (!(Math.abs(last - first) > 1e-3 * first) || !(length > 0)) return null
  const fit = fitCurve(
    ([r0, rise, tau]) => sec.map(t => r0! + rise! * -Math.expm1(-t / tau!)),
    ohm,
    [first, last - first, length / 3],
    { lowest: [first / 2, (last - first) / 10, length / 100] },
  )
  if (!fit) return null
  const tau = { value: fit.parameters[2]!, sigma: Math.sqrt(fit.covariance[2]![2]!) }
  if (!(tau.sigma < tau.value / 3)) return null
  return { start: { value: fit.parameters[0]!, sigma: Math.sqrt(fit.covariance[0]![0]!) }, tau }
}

function meanOf(values: Float64Array): { value: number; sigma: number } {
  const { mean, standardUncertainty } = correlatedMean(values)
  return { value: mean, sigma: Number.isNaN(standardUncertainty) ? 0 : standardUncertainty }
}

function fault(code: AnalysisFault['code'], text: string) {
  return failure<AnalysisFault>({ code, text })
}
