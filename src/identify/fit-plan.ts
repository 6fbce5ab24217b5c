import { breakAwayCurrent, breakAways } from '../analysis/break-away.ts'
import type { FitDocument } from '../contract/fit-document.ts'
import type { Coordinate, ModelPoint } from '../motor/parameters.ts'
import { usualPeriodSec } from '../signals/usual-period.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import { possibleCoordinates, tellingOf, withFixed } from './fit-coordinates.ts'
import type { FitBasis } from './fit-members.ts'
import type { FitSettings } from './fit-settings.ts'
import { type JointRun, noiseUnitsOf, preparedOf } from './joint-members.ts'
import type { Prior } from './joint-model.ts'
import { type StartValues, startValues } from './start-values.ts'

/** Whitened residuals beyond this many standard deviations count by their size instead of its square. */
const ROBUST_CLIP = 4

/** What is to be fitted, on what, from where. */
export interface FitPlan {
  readonly basis: Omit<FitBasis, 'goOn' | 'search'>
  readonly terms: { readonly coordinates: readonly Coordinate[]; readonly tied: boolean }
  readonly start: ModelPoint
  /** Current at which a resting shaft broke away; null where none did slowly enough to tell. */
  readonly breakAway: Estimate | null
  readonly telling: ReturnType<typeof tellingOf>
}

/** What is to be fitted from where; null where no sampled run tells a parameter. */
export function planOf(
  joint: readonly JointRun[],
  textbook: FitDocument,
  settings: FitSettings,
): FitPlan | null {
  if (joint.length === 0) return null
  const { fixed, freed, brushDropLaw } = settings
  const telling = tellingOf(preparedOf(joint), fixed)
  const choice = possibleCoordinates(telling, fixed, freed)
  const members = joint.map(({ member }) => member)
  const values = startValues(
    members.map(({ run, noise }) => ({ run, noise })),
    knownOf(fixed),
  )
  const guess = startOf(values, textbook, joint, choice.tied)
  const noDrop = brushDropLaw === 'none' || !choice.coordinates.includes('brushDrop')
  const law = noDrop ? { brushDropVolt: 0, brushKneeAmp: 0 } : {}
  const bend = brushDropLaw === 'sgn' ? { brushKneeAmp: 0 } : {}
  const breakAway = breakAwayCurrent(
    joint.flatMap(({ signals, member }) =>
      member.run.shaft === 'free' ? breakAways(signals) : [],
    ),
  )
  const start = withFixed(
    { ...guess, ...law, ...bend, ...excessOf(breakAway, guess) },
    fixed,
    choice.tied,
  )
  const isStaticGiven = fixed.staticTorque !== undefined || freed.includes('staticTorque')
  const coordinates = choice.coordinates.filter(
    coordinate =>
      !(brushDropLaw === 'none' && (coordinate === 'brushDrop' || coordinate === 'lnKnee')) &&
      !(brushDropLaw === 'sgn' && coordinate === 'lnKnee'),
  )
  if (coordinates.length === 0) return null
  return {
    basis: {
      members,
      noiseUnits: noiseUnitsOf(joint, start),
      setting: {
        referenceCelsius: settings.referenceTemperatureCelsius,
        magnetPerKelvin: settings.magnetPerKelvin ?? 0,
      },
      priors: priorsOf(joint, start),
      breakAwayAmp: isStaticGiven ? null : (breakAway?.value ?? null),
      clip: settings.robust === false ? Number.POSITIVE_INFINITY : ROBUST_CLIP,
    },
    terms: { coordinates, tied: choice.tied },
    start,
    breakAway,
    telling,
  }
}

function excessOf(
  breakAway: Estimate | null,
  { torqueConstantNmPerA, coulombTorqueNm }: ModelPoint,
) {
  if (breakAway === null) return {}
  const staticNm = torqueConstantNmPerA * breakAway.value
  return { staticExcessNm: Math.max(0, staticNm - coulombTorqueNm) }
}

function knownOf(fixed: FitSettings['fixed']) {
  const known: { -readonly [K in keyof ModelPoint]?: number } = {}
  if (fixed.resistance !== undefined) known.resistanceOhm = fixed.resistance
  if (fixed.inductance !== undefined) known.inductanceHenry = fixed.inductance
  if (fixed.backEmfConstant !== undefined) known.backEmfConstantVsPerRad = fixed.backEmfConstant
  if (fixed.torqueConstant !== undefined) known.torqueConstantNmPerA = fixed.torqueConstant
  if (fixed.brushDrop !== undefined) known.brushDropVolt = fixed.brushDrop
  return known
}

/** Share of the largest current at which the brush drop is taken to bend to begin with. */
const FIRST_KNEE = 0.02
/** Where the inductance is not told, the current is taken to settle within this share of a sample period. */
const SETTLES_WITHIN = 0.3

function startOf(
  values: StartValues,
  textbook: FitDocument,
  joint: readonly JointRun[],
  tied: boolean,
): ModelPoint {
  const resistanceOhm = values.resistanceOhm ?? 1
  const periodSec = usualPeriodSec(joint[0]!.signals.timeSec!)
  const k = values.backEmfConstantVsPerRad ?? 1
  return {
    resistanceOhm,
    inductanceHenry:
      textbook.parameters.inductance.value ??
      values.inductanceHenry ??
      resistanceOhm * periodSec * SETTLES_WITHIN,
    backEmfConstantVsPerRad: k,
    torqueConstantNmPerA: tied ? k : (values.backEmfConstantVsPerRad ?? 1),
    brushDropVolt: values.brushDropVolt,
    brushKneeAmp: FIRST_KNEE * largestAmp(joint),
    coulombTorqueNm: values.coulombTorqueNm,
    staticExcessNm: 0,
    viscousNmsPerRad: values.viscousNmsPerRad,
    viscousDifferenceNmsPerRad: 0,
    windageNms2PerRad2: 0,
    offsetTorqueNm: 0,
    inertiaKgM2: values.inertiaKgM2 ?? 1,
    heatingPerA2s: 0,
    coolingPerSec: 0,
    voltageZeroVolt: 0,
    currentZeroAmp: 0,
    speedZeroRadPerSec: 0,
  }
}

export function largestAmp(joint: readonly JointRun[]): number {
  return Math.max(0, ...joint.map(({ signals }) => signals.current?.reach ?? 0))
}

/** Standard deviation of the logarithm of the knee current about its start. */
const KNEE_SPREAD = 2
/** No run is believed to raise its winding's resistance by more than about this share. */
const MOST_HEATING = 0.5

/** Weak beliefs that keep what the data hardly tell from running away. */
function priorsOf(joint: readonly JointRun[], start: ModelPoint): Prior[] {
  const heat = Math.max(
    ...joint.map(({ member }) => member.run.heat.reduce((sum, step) => sum + step, 0)),
  )
  const priors: Prior[] = []
  if (start.brushKneeAmp > 0) {
    const mean = Math.log(start.brushKneeAmp)
    priors.push({ coordinate: 'lnKnee', mean, variance: KNEE_SPREAD ** 2 })
  }
  if (heat > 0) {
    priors.push({ coordinate: 'heating', mean: 0, variance: (MOST_HEATING / heat) ** 2 })
  }
  return priors
}
