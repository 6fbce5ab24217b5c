import { failure, type Result, success } from '../base/result.ts'
import type { FitDocument, FitWarning } from '../contract/fit-document.ts'
import type { ParameterName } from '../records/parameter.ts'
import type { TestRun } from '../records/test-run.ts'
import { deriveQuantities } from './derived.ts'
import { buildFitDocument, correlationOf, finiteOrNull } from './document.ts'
import { electricalSide, type FixedEstimates, heldRotors, knownFrom } from './electrical-side.ts'
import type { FitFault, FitSettings } from './fit-settings.ts'
import { assembleParameters, fixtureParts, withSystematic } from './parameter-set.ts'
import { compareConstants, contradictions, type ValueOfRun, warningsOfRuns } from './run-checks.ts'
import { movingOf, type RunReading, readRuns, stallOf } from './run-readings.ts'
import { zeroOffsets } from './run-zeros.ts'
import { sampleFeatures } from './sample-features.ts'
import { separateResults } from './separate-results.ts'
import type { StallCombination } from './stall-combination.ts'
import type { TestTemperature } from './test-temperature.ts'
import { budgetsOf, outcomesOf } from './textbook-outcomes.ts'
import { torqueSide } from './torque-side.ts'
import { calibrationParts, type SystematicPart } from './type-b.ts'

/**
 * The parameters of a motor from its tests, each analysed on its own in the way of the textbooks and the results
 * combined: R, V_b and L from locked rotors, k_e from open terminals and free runs, friction and inertia from free
 * runs, coasts and run-ups. Runs that say nothing are named in a warning; the fit fails only when none is usable.
 */
export function textbookFit(
  motor: string,
  runs: readonly TestRun[],
  settings: FitSettings,
): Result<FitDocument, FitFault> {
  const refused = refusal(motor, runs, settings)
  if (refused) return failure(refused)
  const reference = settings.referenceTemperatureCelsius
  const fixed = fixedEstimates(settings)
  const zeros = zeroOffsets(runs)
  const holding = runs.filter(run => run.kind === 'locked-rotor' || run.kind === 'mixed')
  const others = runs.filter(run => run.kind !== 'locked-rotor')
  const held = readRuns(holding, reference, zeros, knownFrom(null, fixed, reference))
  const stall = heldRotors(held, fixed, settings.freed, reference)
  const turning = readRuns(others, reference, zeros, knownFrom(stall, fixed, reference))
  const readings = [...held.filter(({ run }) => run.kind === 'locked-rotor'), ...turning]
  const ordered = runs.map(run => readings.find(reading => reading.run === run)!)
  const speaking = ordered.filter(({ analysis, run }) => analysis && run.kind !== 'zero')
  if (speaking.length === 0) return failure(nothingUsable(motor, ordered))

  const { side, constants, dropLeftOut, sampledTooSlowly } = electricalSide(
    stall,
    readings,
    fixed,
    reference,
  )
  const torque = torqueSide(readings, side.backEmfConstant, fixed, settings.freed)
  const set = assembleParameters(side, torque)
  const temperatures = temperaturesOf(speaking)
  const parts: SystematicPart[] = [
    ...calibrationParts(runs, set.values, !torque.tied),
    ...fixtureParts(torque.fixture),
  ]
  const covariance = withSystematic(set, parts)
  const known = {
    ...(side.resistance ? { resistance: side.resistance } : {}),
    ...(torque.torqueConstant ? { torqueConstant: torque.torqueConstant } : {}),
  }
  const inertias = new Map(torque.mechanical?.eachInertia.map(e => [e.run, e.estimate]))
  const tested = meanTemperature(temperatures)
  const warnings: FitWarning[] = [
    ...assumedTemperature(temperatures, reference),
    ...warningsOfRuns(ordered),
    ...contradictions('backEmfConstant', 'k_e', bestOfEachRun(constants)),
    ...contradictions('resistance', 'R', resistanceOfRuns(stall)),
    ...alikeLoaded(torque.mechanical?.eachInertia ?? [], runs).flatMap(group =>
      contradictions('inertia', 'J/k_t', group),
    ),
    ...(torque.measured && side.backEmfConstant
      ? compareConstants(torque.measured, side.backEmfConstant)
      : []),
    ...oneAngle(stall),
  ]
  return success(
    buildFitDocument({
      motor,
      runs: runs.map(run => run.id),
      referenceTemperatureCelsius: reference,
      testTemperatureCelsius: tested,
      parameters: outcomesOf({
        set,
        covariance,
        side,
        torque,
        fixed,
        dropLeftOut,
        sampledTooSlowly,
        tested,
        reference,
      }),
      correlation: { names: set.names, matrix: correlationOf(covariance) },
      budget: budgetsOf(set, parts, stall),
      derived: {
        ...deriveQuantities({
          values: set.values,
          names: set.names,
          covariance,
          voltageVolt: highestVoltage(speaking),
          degreesOfFreedom: leastFreedom(set.degreesOfFreedom),
        }),
        ...sampleFeatures(speaking, stall),
      },
      separate: separateResults(ordered, known, inertias),
      goodness: {
        degreesOfFreedom: finiteOrNull(torque.mechanical?.degreesOfFreedom ?? 0) ?? 0,
        reducedChiSquare: torque.mechanical?.reducedChiSquare ?? null,
        lackOfFit: lackOfFit(held, torque.mechanical?.reducedChiSquare ?? null),
      },
      termination: 'each test on its own, then combined; nothing to iterate',
      model: { brushKneeAmp: stall?.brushKneeAmp ?? 0, heatingPerA2s: 0, coolingPerSec: 0 },
      warnings,
    }),
  )
}

function refusal(
  motor: string,
  runs: readonly TestRun[],
  { fixed, referenceTemperatureCelsius }: FitSettings,
): FitFault | null {
  if (runs.length === 0) {
    return {
      code: 'no-runs',
      text: `no runs of motor '${motor}' to fit; log or import a test first`,
    }
  }
  if (!(referenceTemperatureCelsius > -200 && referenceTemperatureCelsius < 400)) {
    const text = `reference temperature ${referenceTemperatureCelsius} °C; has to be between -200 and 400`
    return { code: 'bad-setting', text }
  }
  const bad = Object.entries(fixed).find(([, value]) => !Number.isFinite(value))
  return bad
    ? { code: 'bad-setting', text: `${bad[0]} fixed at ${bad[1]}; has to be a number` }
    : null
}

function nothingUsable(motor: string, readings: readonly RunReading[]): FitFault {
  const faults = readings.flatMap(({ run, fault }) => (fault ? `run ${run.id}: ${fault.text}` : []))
  const text =
    faults.length > 0
      ? `no run of motor '${motor}' can be fitted; ${faults.slice(0, 3).join('; ')}`
      : `motor '${motor}' has zero tests only; log or import a locked-rotor or free-run test`
  return { code: 'no-usable-runs', text }
}

function fixedEstimates({ fixed }: FitSettings): FixedEstimates {
  return Object.fromEntries(
    Object.entries(fixed).map(([name, value]) => [
      name,
      { value, standardUncertainty: 0, degreesOfFreedom: Number.POSITIVE_INFINITY },
    ]),
  ) as FixedEstimates
}

function temperaturesOf(readings: readonly RunReading[]): TestTemperature[] {
  return readings.map(reading => reading.temperature)
}

/** Null where nobody said anything of any run. */
function meanTemperature(temperatures: readonly TestTemperature[]): number | null {
  const told = temperatures.filter(({ source }) => source !== 'assumed')
  if (told.length === 0) return null
  return told.reduce((sum, { celsius }) => sum + celsius, 0) / told.length
}

function assumedTemperature(
  temperatures: readonly TestTemperature[],
  reference: number,
): FitWarning[] {
  if (!temperatures.some(({ source }) => source === 'assumed')) return []
  const text =
    `nobody noted the temperature of the winding in some runs; ${reference} °C is assumed ` +
    'and the uncertainty of the resistance leaves that out (copper changes by 0.39 % per kelvin)'
  return [{ code: 'assumed-temperature', text }]
}

function oneAngle(stall: StallCombination | null): FitWarning[] {
  if (!stall || stall.runs > 1) return []
  const text =
    'locked at one shaft angle only; the resistance may differ by several per cent between angles, repeat at others'
  return [{ code: 'one-angle', text, run: stall.eachOhm[0]!.run }]
}

/** Locked rotors whose angle nobody marked should agree; between marked angles much is possible. */
function resistanceOfRuns(stall: StallCombination | null): ValueOfRun[] {
  return (stall?.eachOhm ?? []).flatMap(({ run, estimate, angleRad }) =>
    angleRad === null ? { run, estimate } : [],
  )
}

/** Inertias of runs with the same disc on the shaft. */
function alikeLoaded(inertias: readonly ValueOfRun[], runs: readonly TestRun[]): ValueOfRun[][] {
  const added = new Map(runs.map(({ id, conditions }) => [id, conditions.addedInertiaKgM2]))
  const loads = new Set(inertias.map(({ run }) => added.get(run)))
  return [...loads].map(load => inertias.filter(({ run }) => added.get(run) === load))
}

/** Where a run gives the constant in more than one way, open terminals count. */
function bestOfEachRun<T extends { readonly run: number; readonly how: string }>(
  constants: readonly T[],
): T[] {
  const runs = new Map<number, T>()
  for (const constant of constants) {
    if (!runs.has(constant.run) || constant.how === 'open terminals') {
      runs.set(constant.run, constant)
    }
  }
  return [...runs.values()]
}

/** The highest steady voltage of all runs, to three digits: what derived quantities are stated at. */
function highestVoltage(readings: readonly RunReading[]): number | null {
  const levels = readings.flatMap(reading => [
    ...(movingOf(reading)?.levels ?? []),
    ...(stallOf(reading)?.points.map(point => point.level) ?? []),
  ])
  const highest = Math.max(0, ...levels.map(level => Math.abs(level.voltage?.value ?? 0)))
  return highest > 0 ? Number(highest.toPrecision(3)) : null
}

function leastFreedom(freedoms: Readonly<Partial<Record<ParameterName, number>>>): number {
  return Math.max(1, Math.min(...Object.values(freedoms)))
}

/** Readings this far beyond their uncertainties, as a reduced χ², do not follow the model. */
const MISFIT = 5

function lackOfFit(held: readonly RunReading[], reducedChiSquare: number | null): string {
  const verdicts = held.flatMap(reading => {
    const verdict = stallOf(reading)?.stall
    return verdict ? [{ run: reading.run.id, verdict }] : []
  })
  const found = verdicts.find(({ verdict }) => verdict.lackOfFit)
  const misfit = (reducedChiSquare ?? 0) > MISFIT
  const texts = [
    ...(found
      ? [`locked rotor of run ${found.run}: ${found.verdict.text}`]
      : verdicts.length > 0
        ? [`locked rotor: ${verdicts[0]!.verdict.text}`]
        : []),
    ...(misfit
      ? [
          `torque equation: found, reduced χ² ${reducedChiSquare!.toPrecision(2)}; the runs disagree beyond their uncertainties, compare friction and inertia of the separate tests and look at the fitted curves of speed`,
        ]
      : []),
  ]
  return texts.length > 0 ? texts.join('; ') : 'not tested'
}
