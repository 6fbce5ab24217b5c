import type { KnownParameters } from '../analysis/result.ts'
import type { ParameterName } from '../records/parameter.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import {
  balanceOfRuns,
  combineConstants,
  type ConstantOfRun,
  constantsOf,
  type ElectricalRun,
  poolLevels,
} from './electrical-combination.ts'
import type { ElectricalSide } from './parameter-set.ts'
import { backDrivenConstants, movingOf, type RunReading, stallOf } from './run-readings.ts'
import { combineStall, type StallCombination } from './stall-combination.ts'
import { resistanceAt, type TestTemperature } from './test-temperature.ts'

export type FixedEstimates = Readonly<Partial<Record<ParameterName, Estimate>>>

export interface ElectricalResult {
  readonly side: ElectricalSide
  readonly stall: StallCombination | null
  readonly constants: readonly ConstantOfRun[]
  /** A brush drop was looked for and did not stand out. */
  readonly dropLeftOut: boolean
}

/** What the locked rotors say, with what the user holds fixed. */
export function heldRotors(
  readings: readonly RunReading[],
  fixed: FixedEstimates,
  freed: readonly ParameterName[],
  referenceCelsius: number,
): StallCombination | null {
  const runs = readings.flatMap(reading => {
    const analysis = stallOf(reading)
    return analysis
      ? {
          run: reading.run.id,
          analysis,
          temperature: reading.temperature,
          angleRad: reading.run.conditions.shaftAngleRad,
        }
      : []
  })
  return combineStall(runs, {
    referenceCelsius,
    resistance: fixed.resistance,
    brushDrop: fixed.brushDrop,
    keepDrop: freed.includes('brushDrop'),
  })
}

/** R and V_b as a turning run at some temperature takes them for known. */
export function knownFrom(
  stall: StallCombination | null,
  fixed: FixedEstimates,
  referenceCelsius: number,
): (temperature: TestTemperature) => KnownParameters {
  const complete = stall?.brushDrop ? stall : null
  const resistance = fixed.resistance ?? complete?.resistance
  const brushDrop = fixed.brushDrop ?? complete?.brushDrop ?? undefined
  return ({ celsius }) => {
    const factor = resistanceAt(1, referenceCelsius, celsius)
    return {
      ...fixed,
      ...(resistance ? { resistance: timesFactor(resistance, factor) } : {}),
      ...(brushDrop ? { brushDrop } : {}),
      brushKneeAmp: complete?.brushKneeAmp ?? 0,
      resistanceBrushCovariance:
        fixed.resistance || fixed.brushDrop ? 0 : (complete?.covariance ?? 0) * factor,
    }
  }
}

function timesFactor(e: Estimate, factor: number): Estimate {
  return { ...e, value: e.value * factor, standardUncertainty: e.standardUncertainty * factor }
}

/** The electrical parameters at the reference temperature, from whatever runs there are. */
export function electricalSide(
  stall: StallCombination | null,
  readings: readonly RunReading[],
  fixed: FixedEstimates,
  referenceCelsius: number,
): ElectricalResult {
  const runs = readings.flatMap((reading): ElectricalRun[] => {
    const moving = movingOf(reading)
    return moving ? [{ run: reading.run.id, moving, temperature: reading.temperature }] : []
  })
  const constants = [...constantsOf(runs), ...backDrivenConstants(readings)]
  const told = stall?.brushDrop ? null : withoutFullStall(readings, runs, referenceCelsius)
  if (told?.backEmfConstant && !constants.some(c => c.how === 'open terminals')) {
    constants.splice(0, constants.length, {
      run: runs[0]!.run,
      estimate: told.backEmfConstant,
      how: 'steady levels',
      withResistance: 0,
      withBrushDrop: 0,
    })
  }
  const constant = fixed.backEmfConstant ? null : combineConstants(constants)
  const drop = stall?.brushDrop ?? told?.brushDrop ?? null
  const isDrop = drop !== null && (drop.value !== 0 || fixed.brushDrop !== undefined)
  return {
    side: {
      resistance: fixed.resistance ?? told?.resistance ?? stall?.resistance ?? null,
      brushDrop: fixed.brushDrop ?? (isDrop ? drop : null),
      backEmfConstant: fixed.backEmfConstant ?? constant?.backEmfConstant ?? null,
      inductance: fixed.inductance ?? stall?.inductance ?? told?.inductance ?? null,
      resistanceDrop: fixed.resistance
        ? 0
        : ((stall?.brushDrop ? stall.covariance : told?.covariance) ?? 0),
      constantResistance: fixed.resistance ? 0 : (constant?.withResistance ?? 0),
      constantDrop: fixed.brushDrop ? 0 : (constant?.withBrushDrop ?? 0),
    },
    stall,
    constants,
    dropLeftOut: drop?.value === 0 || (told !== null && told.brushDrop === null),
  }
}

/** Locked levels at one current pooled with turning ones, else the voltage balance of whole recordings. */
function withoutFullStall(
  readings: readonly RunReading[],
  runs: readonly ElectricalRun[],
  referenceCelsius: number,
): (ReturnType<typeof balanceOfRuns> & { readonly backEmfConstant?: Estimate }) | null {
  const points = readings.flatMap(reading => stallOf(reading)?.points ?? [])
  const levels = runs.flatMap(run => run.moving.levels)
  const pooled = points.length > 0 || levels.length >= 4 ? poolLevels(points, levels) : null
  const balance = balanceOfRuns(runs, referenceCelsius)
  if (!pooled || (balance && points.length === 0)) {
    const better =
      pooled &&
      balance &&
      pooled.resistance.standardUncertainty < balance.resistance.standardUncertainty
    if (!better) return balance
  }
  return { ...pooled!, inductance: balance?.inductance ?? null }
}
