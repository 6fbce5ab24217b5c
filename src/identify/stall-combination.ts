import type { LockedRotorAnalysis } from '../analysis/locked-rotor.ts'
import { fitBesideDrop, type StallLine } from '../analysis/stall-line.ts'
import { combineEstimates, type Estimate } from '../statistics/weighted-mean.ts'
import { resistanceAt, type TestTemperature } from './test-temperature.ts'

/** One locked-rotor run with the temperature at which it began. */
export interface StallRun {
  readonly run: number
  readonly analysis: LockedRotorAnalysis
  readonly temperature: TestTemperature
  readonly angleRad: number | null
}

/** Resistance and brush drop from all locked-rotor runs, at the reference temperature. */
export interface StallCombination {
  readonly resistance: Estimate
  /** Null: not told from the resistance; an estimate of 0 with no uncertainty: not in the model. */
  readonly brushDrop: Estimate | null
  readonly brushKneeAmp: number
  /** Lowest current of all levels. */
  readonly seenFromAmp: number
  readonly covariance: number
  /** Scatter of the resistance between runs beyond their own uncertainty: shaft angles, temperatures. */
  readonly betweenRunsOhm: number
  readonly eachOhm: readonly {
    readonly run: number
    readonly estimate: Estimate
    readonly angleRad: number | null
  }[]
  readonly runs: number
  readonly inductance: Estimate | null
}

export interface StallSettings {
  readonly referenceCelsius: number
  /** Given values: the resistance at the reference temperature. */
  readonly resistance: Estimate | undefined
  readonly brushDrop: Estimate | undefined
  /** Keep the brush drop even where it does not stand out of its uncertainty. */
  readonly keepDrop: boolean
}

/** A brush drop stays when it is this many standard uncertainties above nil. */
const EARNED = 2

/**
 * Mean over the runs (each usually at another shaft angle), weighted with the scatter between them. A drop that
 * does not stand out of its uncertainty is left out, and the lines are drawn again without it.
 */
export function combineStall(
  runs: readonly StallRun[],
  settings: StallSettings,
): StallCombination | null {
  const usable = runs.filter(run => run.analysis.stall !== null)
  const inductances = runs.flatMap(run => run.analysis.inductance ?? [])
  if (usable.length === 0) return null
  const inductance = inductances.length > 0 ? combineEstimates(inductances) : null
  const given = settings.brushDrop
  const lines = usable.map(run => besideResistance(run, settings) ?? run.analysis.stall!.chosen)
  const curved = lines.filter(line => line.kneeAmp > 0).length * 2 > lines.length
  const drops = lines.flatMap(line =>
    line.brushDrop && line.kneeAmp > 0 === curved ? line.brushDrop : [],
  )
  const drop = given ?? (drops.length > 0 ? combineEstimates(drops) : null)
  const earned =
    given !== undefined ||
    settings.keepDrop ||
    (drop !== null && drop.value > EARNED * drop.standardUncertainty)
  const knees = lines.flatMap(line => (line.kneeAmp > 0 ? line.kneeAmp : []))
  const knee = curved ? knees.sort((a, b) => a - b)[knees.length >> 1]! : 0
  const held = given ? given.value : drop && !earned ? 0 : null
  const used = lines.map((line, r) =>
    held === null ? line : (fitBesideDrop(usable[r]!.analysis.points, held) ?? line),
  )
  const each = used.map((line, r) => atReference(line, usable[r]!, settings.referenceCelsius))
  const resistance = combineEstimates(each)
  return {
    resistance,
    brushDrop: drop && !earned ? NO_DROP : drop,
    brushKneeAmp: drop && earned ? knee : 0,
    seenFromAmp: Math.min(
      ...usable.flatMap(({ analysis }) => analysis.points.map(point => Math.abs(point.current))),
    ),
    covariance: drop && earned && !given ? meanCovariance(lines, drop, resistance) : 0,
    betweenRunsOhm: resistance.between,
    eachOhm: each.map((e, r) => ({
      run: usable[r]!.run,
      estimate: e,
      angleRad: usable[r]!.angleRad,
    })),
    runs: usable.length,
    inductance,
  }
}

/** With the resistance given, what is left of the voltage is the drop. */
function besideResistance(run: StallRun, settings: StallSettings): StallLine | null {
  const { points, stall } = run.analysis
  if (!settings.resistance || settings.brushDrop) return null
  const ohm = resistanceAt(
    settings.resistance.value,
    settings.referenceCelsius,
    run.temperature.celsius,
  )
  const warmth = stall!.chosen.warmth
  const drops = points.map(
    (p, i): Estimate => ({
      value: Math.abs(p.voltage) - ohm * warmth[i]! * Math.abs(p.current),
      standardUncertainty: Math.hypot(p.voltageSigma, ohm * p.currentSigma),
      degreesOfFreedom: Number.POSITIVE_INFINITY,
    }),
  )
  const drop = combineEstimates(drops)
  return {
    ...stall!.line,
    resistance: { ...settings.resistance, value: ohm },
    brushDrop: drop,
    covariance: 0,
  }
}

const NO_DROP: Estimate = {
  value: 0,
  standardUncertainty: 0,
  degreesOfFreedom: Number.POSITIVE_INFINITY,
}

function atReference(line: StallLine, { temperature }: StallRun, reference: number): Estimate {
  const factor = resistanceAt(1, temperature.celsius, reference)
  return {
    value: line.resistance.value * factor,
    standardUncertainty: line.resistance.standardUncertainty * factor,
    degreesOfFreedom: line.resistance.degreesOfFreedom,
  }
}

/** The mean correlation of the runs, at the combined uncertainties as far as the lines themselves cause them. */
function meanCovariance(
  lines: readonly StallLine[],
  drop: Estimate,
  resistance: Estimate & { readonly between: number },
): number {
  const correlations = lines.flatMap(line =>
    line.brushDrop
      ? line.covariance / (line.resistance.standardUncertainty * line.brushDrop.standardUncertainty)
      : [],
  )
  if (correlations.length === 0 || correlations.some(Number.isNaN)) return 0
  const mean = correlations.reduce((sum, r) => sum + r, 0) / correlations.length
  const within = Math.sqrt(
    Math.max(0, resistance.standardUncertainty ** 2 - resistance.between ** 2 / lines.length),
  )
  return mean * within * drop.standardUncertainty
}
