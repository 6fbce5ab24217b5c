import type { KnownParameters } from '../analysis/result.ts'
import type { ParameterName } from '../records/parameter.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import {
  type ConstantOfRun,
  combineConstants,
  constantsOf,
  type ElectricalRun,
  pooledBalance,
} from './electrical-combination.ts'
import type { ElectricalSide } from './parameter-set.ts'
import { backDrivenConstants, movingOf, type RunReading, stallOf } from './run-readings.ts'
import { combineStall, type StallCombination } from './stall-combination.ts'
import { resistanceAt, type TestTemperature } from './test-temperature.ts'

export type FixedEstimates = Readonly<Partial<Record<ParameterName, Estimate>>>

export interface ElectricalResult {
  readonly side: ElectricalSide
  readonly stall: StallCombination | null
  /** Of every run that tells one, in every way it does, for comparison. */
  readonly constants: readonly ConstantOfRun[]
  /** A brush drop was looked for and did not stand out. */
  readonly dropLeftOut: boolean
  /** No run sampled the current rise densely enough. */
  readonly sampledTooSlowly: boolean
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
      ...(complete && !fixed.brushDrop && complete.brushKneeAmp === 0
        ? { brushSeenFromAmp: complete.seenFromAmp }
        : {}),
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
  const all = [...constantsOf(runs), ...backDrivenConstants(readings)]
  const open = all.filter(constant => constant.how === 'open terminals')
  const told = stall?.brushDrop
    ? null
    : pooledBalance(
        runs,
        readings.flatMap(reading => {
          const points = stallOf(reading)?.points ?? []
          return points.length > 0 ? { points, temperature: reading.temperature } : []
        }),
        referenceCelsius,
        fixed.backEmfConstant ?? combineConstants(open)?.backEmfConstant ?? null,
      )
  const pooled: ConstantOfRun[] = told?.backEmfConstant
    ? [
        {
          run: runs[0]!.run,
          estimate: told.backEmfConstant,
          how: 'balance',
          withResistance: told.covariance[2]![0]!,
          withBrushDrop: told.covariance[2]![1]!,
        },
      ]
    : []
  // Open terminals are free of R and of the brushes: where there are any, the others are only compared.
  const used = [open, pooled, all].find(constants => constants.length > 0) ?? []
  const constant = fixed.backEmfConstant ? null : combineConstants(used)
  const toldResistance = told?.tellsResistance ? told.resistance : null
  const drop = stall?.brushDrop ?? (toldResistance && told?.brushDrop) ?? null
  const isDrop = drop !== null && (drop.value !== 0 || fixed.brushDrop !== undefined)
  return {
    side: {
      resistance: fixed.resistance ?? toldResistance ?? stall?.resistance ?? null,
      brushDrop: fixed.brushDrop ?? (isDrop ? drop : null),
      backEmfConstant: fixed.backEmfConstant ?? constant?.backEmfConstant ?? null,
      inductance: fixed.inductance ?? heldInductance(stall, told) ?? told?.inductance ?? null,
      resistanceDrop: fixed.resistance
        ? 0
        : ((stall?.brushDrop ? stall.covariance : told?.covariance[0]?.[1]) ?? 0),
      constantResistance: fixed.resistance ? 0 : (constant?.withResistance ?? 0),
      constantDrop: fixed.brushDrop ? 0 : (constant?.withBrushDrop ?? 0),
    },
    stall,
    constants: all,
    dropLeftOut: drop?.value === 0,
    sampledTooSlowly: told?.sampledTooSlowly ?? false,
  }
}

/** L = τ R: where the rise was read with a resistance that held the drop too, R is now known better. */
function heldInductance(
  stall: StallCombination | null,
  told: { readonly resistance: Estimate } | null,
): Estimate | null {
  if (!stall?.inductance || !told) return stall?.inductance ?? null
  const factor = told.resistance.value / stall.resistance.value
  return {
    value: stall.inductance.value * factor,
    standardUncertainty: Math.hypot(
      stall.inductance.standardUncertainty * factor,
      (stall.inductance.value * told.resistance.standardUncertainty) / stall.resistance.value,
    ),
    degreesOfFreedom: stall.inductance.degreesOfFreedom,
  }
}
