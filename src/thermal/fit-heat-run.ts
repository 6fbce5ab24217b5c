import { failure, type Result, success } from '../base/result.ts'
import type { HeatNumber, HeatNumberName } from '../contract/heat-document.ts'
import { COPPER_ZERO_CELSIUS } from '../motor/winding-temperature.ts'
import type { TestRun } from '../records/test-run.ts'
import { readSignals, type RunSignals, type ZeroOffsets } from '../signals/run-signals.ts'
import { fitHeat, type HeatFit } from './fit-heat.ts'
import { ASSUMED_CELSIUS, type HeatBlock, heatBlocks } from './heat-blocks.ts'
import { heatNumbers } from './heat-numbers.ts'
import type { HeatOrder } from './heat-order.ts'
import type { Belief, HeatSetting } from './heat-setting.ts'
import { coastConstants, type WarmConstant } from './magnet-weakening.ts'

/** Brushes and leads of small motors, of the whole resistance. Common practice, no source. */
const USUAL_STEADY_SHARE: Belief = { value: 0.03, standardUncertainty: 0.02 }
/** Where the drop of the brushes is not known: of the highest voltage. Common practice, no source. */
const USUAL_DROP_SHARE = 0.05
const DECLARED_SHARE = 0.2
/** The drop builds up over currents of this share of the largest, within a factor. Common practice, no source. */
const USUAL_KNEE_SHARE = 0.1
const UNKNOWN_KNEE = 1
const KNOWN_KNEE = 0.1
/** Degrees to which a temperature at the start is believed, declared or not. */
const DECLARED_KELVIN = 0.5
const ASSUMED_KELVIN = 5
const HOUSING_KELVIN = 2
/** Two masses stand for many: their numbers hold to no better than this share. Common practice, no source. */
const MODEL_SHARE = 3e-3

/** A heating run, fitted: all that no class of insulation and no use changes. */
export interface FittedHeat {
  readonly run: Pick<TestRun, 'id' | 'conditions'>
  readonly blocks: readonly HeatBlock[]
  readonly setting: HeatSetting
  readonly fit: HeatFit
  /** With what all readings have in common. */
  readonly covariance: readonly (readonly number[])[]
  readonly watchedSec: number
  readonly numbers: Readonly<Record<HeatNumberName, HeatNumber>>
  /** k where the shaft coasted within the run. */
  readonly ownConstants: readonly WarmConstant[]
}

export function fitHeatRun(
  run: TestRun,
  order: Pick<HeatOrder, 'backEmfConstant' | 'brushDrop' | 'contactOhm'>,
  zeros: ZeroOffsets = {},
): Result<FittedHeat, string> {
  const signals = readSignals(run, zeros)
  const blocks = heatBlocks(signals)
  if (!blocks.ok) return blocks
  const turns = blocks.value.some(block => !block.standing && block.amp > 0)
  if (turns && !order.backEmfConstant) {
    return failure(
      'the shaft turns while it is heated: identify the motor first, so that friction can be told from copper loss',
    )
  }
  const startCelsius =
    run.conditions.windingCelsius ?? run.conditions.ambientCelsius ?? ASSUMED_CELSIUS
  const setting = {
    startCelsius,
    brushDrop: dropOf(order, signals),
    brushKnee: kneeOf(order, signals),
    steadyShare: steadyShareOf(order, blocks.value),
    backEmfVsPerRad: order.backEmfConstant?.value ?? 0,
  }
  const fitted = fitHeat(blocks.value, setting)
  if (!fitted.ok) return fitted
  const fit = fitted.value
  const covariance = withTypeB(fit, signals, startCelsius)
  const begin = blocks.value.find(block => block.amp > 0)!.fromSec
  const watchedSec = signals.timeSec!.at(-1)! - begin
  return success({
    run: { id: run.id, conditions: run.conditions },
    blocks: blocks.value,
    setting,
    fit,
    covariance,
    watchedSec,
    numbers: heatNumbers(fit, covariance, watchedSec),
    ownConstants: ownConstants(signals, blocks.value, fit),
  })
}

function dropOf({ brushDrop }: Pick<HeatOrder, 'brushDrop'>, { voltage }: RunSignals): Belief {
  if (brushDrop) {
    const least = 0.02 * brushDrop.value + 1e-4
    return {
      value: brushDrop.value,
      standardUncertainty: Math.max(brushDrop.standardUncertainty, least),
    }
  }
  const usual = USUAL_DROP_SHARE * voltage!.reach
  return { value: usual, standardUncertainty: usual }
}

/** A drop that was found constant has its knee below all currents. */
function kneeOf({ brushDrop }: Pick<HeatOrder, 'brushDrop'>, { current }: RunSignals): Belief {
  const usual = USUAL_KNEE_SHARE * current!.reach
  return brushDrop
    ? {
        value: Math.log(Math.max(brushDrop.kneeAmp, 1e-2 * usual)),
        standardUncertainty: KNOWN_KNEE,
      }
    : { value: Math.log(usual), standardUncertainty: UNKNOWN_KNEE }
}

function steadyShareOf(
  { contactOhm }: Pick<HeatOrder, 'contactOhm'>,
  blocks: readonly HeatBlock[],
): Belief {
  if (contactOhm === null) return USUAL_STEADY_SHARE
  const first = blocks.find(block => block.reading)!.reading!.ohm
  const value = contactOhm / first
  return { value, standardUncertainty: Math.max(1e-4, DECLARED_SHARE * value) }
}

/**
 * Adds what all readings have in common: gain of voltage and current, which scales the heat, and the temperature
 * at the start, which scales every rise. Thermal resistances go with the rise over the heat, capacities the
 * other way, so that time constants keep clear of both. Each thermal number is told to `MODEL_SHARE` at best.
 */
function withTypeB(fit: HeatFit, signals: RunSignals, startCelsius: number): number[][] {
  const { conditions } = signals.run
  const declared = conditions.windingCelsius ?? conditions.ambientCelsius
  const kelvin = declared === null ? ASSUMED_KELVIN : DECLARED_KELVIN
  const common = Math.hypot(
    signals.voltage!.traits.gainUncertainty,
    signals.current!.traits.gainUncertainty,
    kelvin / (COPPER_ZERO_CELSIUS + startCelsius),
  )
  const signs = [1, 1, -1, -1]
  return fit.covariance.map((row, j) =>
    row.map((value, l) => {
      const own = j === l && j < signs.length ? MODEL_SHARE * MODEL_SHARE : 0
      return value + (signs[j] ?? 0) * (signs[l] ?? 0) * common * common + own
    }),
  )
}

function ownConstants(
  signals: RunSignals,
  blocks: readonly HeatBlock[],
  fit: HeatFit,
): WarmConstant[] {
  return coastConstants(signals).map(({ start, end, constant }) => {
    const sec = (signals.timeSec![start]! + signals.timeSec![end - 1]!) / 2
    const b = Math.max(
      0,
      blocks.findIndex(({ toSec }) => toSec >= sec),
    )
    return { celsius: fit.course.housingAfter[b]!, celsiusUncertainty: HOUSING_KELVIN, constant }
  })
}
