import type { BudgetLine } from '../contract/fit-document.ts'
import { type Coordinate, coordinateSlope, type ModelPoint } from '../motor/parameters.ts'
import { PARAMETERS, type ParameterName } from '../records/parameter.ts'
import { coverageFactor } from '../statistics/distributions.ts'
import type { LeftOut } from './choose-terms.ts'
import { budgetLines, type ParameterOutcome, WANTED_TEST } from './document.ts'
import { COORDINATE_OF, type Telling } from './fit-coordinates.ts'
import type { FittedTerms } from './fit-members.ts'
import { varianceOfReadings } from './robust-covariance.ts'
import { resistanceAt } from './test-temperature.ts'
import type { SystematicPart } from './type-b.ts'

/** The determined parameters with one covariance, statistical and systematic parts together. */
export interface JointEstimates {
  readonly names: readonly ParameterName[]
  readonly values: Readonly<Partial<Record<ParameterName, number>>>
  /** From the runs alone. */
  readonly statistical: readonly (readonly number[])[]
  readonly covariance: readonly (readonly number[])[]
  readonly freedom: Readonly<Partial<Record<ParameterName, number>>>
}

export function parameterValue(motor: ModelPoint, name: ParameterName): number {
  switch (name) {
    case 'resistance':
      return motor.resistanceOhm
    case 'inductance':
      return motor.inductanceHenry
    case 'backEmfConstant':
      return motor.backEmfConstantVsPerRad
    case 'torqueConstant':
      return motor.torqueConstantNmPerA
    case 'brushDrop':
      return motor.brushDropVolt
    case 'coulombTorque':
      return motor.coulombTorqueNm
    case 'staticTorque':
      return motor.coulombTorqueNm + motor.staticExcessNm
    case 'viscousCoefficient':
      return motor.viscousNmsPerRad
    case 'windageCoefficient':
      return motor.windageNms2PerRad2
    case 'offsetTorque':
      return motor.offsetTorqueNm
    case 'inertia':
      return motor.inertiaKgM2
  }
}

/** Names whose value the fit moved, `torqueConstant` included where it follows the back-EMF constant. */
export function movedNames(fit: FittedTerms): ParameterName[] {
  const { coordinates, tied } = fit.terms
  return PARAMETERS.filter(name => coordinates.includes(coordinateOf(name, tied)))
}

export function valuesOf(fit: FittedTerms): Partial<Record<ParameterName, number>> {
  const { motor } = fit.minimum.point
  return Object.fromEntries(movedNames(fit).map(name => [name, parameterValue(motor, name)]))
}

/**
 * @param laws what terms that were left out add to the uncertainty
 */
export function estimatesOf(
  fit: FittedTerms,
  laws: readonly SystematicPart[],
  systematic: readonly SystematicPart[],
): JointEstimates {
  const names = movedNames(fit)
  const { motor } = fit.minimum.point
  const { matrix, freedom } = fit.covariance!
  const owners = names.map(name => coordinateOf(name, fit.terms.tied))
  const place = owners.map(coordinate => fit.terms.coordinates.indexOf(coordinate))
  const slope = names.map((name, n) =>
    name === 'torqueConstant' ? motor.torqueConstantNmPerA : coordinateSlope(motor, owners[n]!),
  )
  const scatter = names.map((_, a) =>
    names.map((_, b) => slope[a]! * slope[b]! * matrix[place[a]!]![place[b]!]!),
  )
  const statistical = withParts(scatter, names, laws)
  return {
    names,
    values: valuesOf(fit),
    statistical,
    covariance: withParts(statistical, names, systematic),
    freedom: Object.fromEntries(names.map((name, n) => [name, freedom[place[n]!]!])),
  }
}

/** The estimates with one of them taken out, for what the runs cannot be trusted to tell. */
export function withoutName(estimates: JointEstimates, name: ParameterName): JointEstimates {
  const kept = estimates.names.flatMap((other, n) => (other === name ? [] : [n]))
  const part = (matrix: readonly (readonly number[])[]) =>
    kept.map(a => kept.map(b => matrix[a]![b]!))
  const { [name]: _value, ...values } = estimates.values
  const { [name]: _freedom, ...freedom } = estimates.freedom
  return {
    names: kept.map(n => estimates.names[n]!),
    values,
    statistical: part(estimates.statistical),
    covariance: part(estimates.covariance),
    freedom,
  }
}

/** A covariance with fully correlated parts added. */
function withParts(
  matrix: readonly (readonly number[])[],
  names: readonly ParameterName[],
  parts: readonly SystematicPart[],
): number[][] {
  return matrix.map((row, a) =>
    row.map((value, b) =>
      parts.reduce(
        (sum, { effects }) => sum + (effects[names[a]!] ?? 0) * (effects[names[b]!] ?? 0),
        value,
      ),
    ),
  )
}

/** Coordinate that carries a parameter's uncertainty. */
export function coordinateOf(name: ParameterName, tied: boolean): Coordinate {
  return name === 'torqueConstant' && tied ? 'lnBackEmf' : COORDINATE_OF[name]
}

export interface OutcomeParts {
  readonly fit: FittedTerms
  readonly estimates: JointEstimates
  readonly leftOut: readonly LeftOut[]
  /** The runs would bear a drop that moves the others. */
  readonly dropOpen: boolean
  readonly telling: Telling
  readonly fixed: Readonly<Partial<Record<ParameterName, number>>>
  readonly testCelsius: number | null
  readonly referenceCelsius: number
  readonly withFixture: boolean
}

const NO_EVIDENCE = 'left out: it does not improve the fit by more than chance would'
const OPEN_DROP = 'these runs fit any drop; what it may be widens the other intervals'
export const UNTOLD_INDUCTANCE: ParameterOutcome = {
  status: 'not-determined',
  reason:
    'the samples are too slow to show the current rise; a locked-rotor recording with several samples within L/R determines it',
}
const NEEDS_CONSTANT =
  'known only over the torque constant; measure the voltage too, or give the constant'

/** Status and value of every parameter that the joint fit has something to say of. */
export function jointOutcomes(
  parts: OutcomeParts,
): Partial<Record<ParameterName, ParameterOutcome>> {
  const outcomes: Partial<Record<ParameterName, ParameterOutcome>> = {}
  for (const name of PARAMETERS) {
    const outcome = outcomeOf(name, parts)
    if (outcome !== null) outcomes[name] = outcome
  }
  return outcomes
}

function outcomeOf(name: ParameterName, parts: OutcomeParts): ParameterOutcome | null {
  const { fit, estimates, leftOut, telling, fixed } = parts
  const given = fixed[name]
  if (given !== undefined) {
    const estimate = {
      value: given,
      standardUncertainty: 0,
      degreesOfFreedom: Number.POSITIVE_INFINITY,
    }
    return { status: 'fixed', estimate, ...extrasOf(name, given, parts) }
  }
  const place = estimates.names.indexOf(name)
  if (place >= 0 && (isFrictionOpen(name, leftOut) || isDropAlone(name, leftOut))) {
    return { status: 'not-determined', reason: WANTED_TEST[name] }
  }
  if (place >= 0) {
    const value = estimates.values[name]!
    const variance = estimates.covariance[place]![place]!
    const own = estimates.statistical[place]![place]!
    const standardUncertainty = Math.sqrt(variance)
    const degreesOfFreedom =
      own > 0 ? estimates.freedom[name]! * (variance / own) ** 2 : Number.POSITIVE_INFINITY
    const half = coverageFactor(degreesOfFreedom) * standardUncertainty
    return {
      status: name === 'torqueConstant' && fit.terms.tied ? 'tied' : 'determined',
      estimate: { value, standardUncertainty, degreesOfFreedom },
      ...(isLogarithmic(name)
        ? { interval95: [value * Math.exp(-half / value), value * Math.exp(half / value)] as const }
        : {}),
      ...extrasOf(name, value, parts),
    }
  }
  if (name === 'torqueConstant' && fit.terms.tied) return null
  const dropped = leftOut.find(({ coordinate }) => coordinate === COORDINATE_OF[name])
  if (name === 'brushDrop' && (parts.dropOpen || isDropAlone(name, leftOut))) {
    return { status: 'not-determined', reason: `${OPEN_DROP}; ${WANTED_TEST.brushDrop}` }
  }
  if (dropped?.because === 'no-evidence') return { status: 'not-in-model', reason: NO_EVIDENCE }
  if (dropped !== undefined) {
    if (name === 'inductance') return UNTOLD_INDUCTANCE
    return { status: 'not-determined', reason: WANTED_TEST[name] }
  }
  const ofShaft = SHAFT.includes(name)
  if (ofShaft && telling.mechanic && !telling.backEmf && fixed.torqueConstant === undefined) {
    return { status: 'not-determined', reason: NEEDS_CONSTANT }
  }
  return null
}

/**
 * Brushes rub in every motor. Where the runs do not tell how much, the friction that grows with speed has taken
 * that over.
 */
function isFrictionOpen(name: ParameterName, leftOut: readonly LeftOut[]): boolean {
  const grows = name === 'viscousCoefficient' || name === 'windageCoefficient'
  const sliding = leftOut.find(({ coordinate }) => coordinate === 'coulomb')
  return grows && sliding?.because === 'not-told'
}

/** Where nothing tells the resistance, a drop has taken its voltage over. */
const isDropAlone = (name: ParameterName, leftOut: readonly LeftOut[]): boolean =>
  name === 'brushDrop' &&
  leftOut.some(({ coordinate, because }) => coordinate === 'lnResistance' && because === 'not-told')

const SHAFT: readonly ParameterName[] = [
  'coulombTorque',
  'viscousCoefficient',
  'windageCoefficient',
  'offsetTorque',
  'inertia',
]

const isLogarithmic = (name: ParameterName) => COORDINATE_OF[name].startsWith('ln')

function extrasOf(name: ParameterName, value: number, parts: OutcomeParts) {
  const { testCelsius, referenceCelsius } = parts
  if (name === 'resistance') {
    return {
      atTestTemperature:
        testCelsius === null ? value : resistanceAt(value, referenceCelsius, testCelsius),
    }
  }
  if (name === 'backEmfConstant' || name === 'inductance') return { atTestTemperature: value }
  const ofShaft = name === 'coulombTorque' || name === 'viscousCoefficient' || name === 'inertia'
  return ofShaft && parts.withFixture && parts.fixed[name] === undefined
    ? { note: 'with whatever fixture was on the shaft' }
    : {}
}

/** What makes up the uncertainty of each parameter. */
export function jointBudgets(
  fit: FittedTerms,
  estimates: JointEstimates,
  laws: readonly SystematicPart[],
  systematic: readonly SystematicPart[],
): Partial<Record<ParameterName, BudgetLine[]>> {
  const budgets: Partial<Record<ParameterName, BudgetLine[]>> = {}
  const { coordinates, tied } = fit.terms
  const { white, matrix } = fit.covariance!
  const noise = varianceOfReadings(fit.model, fit.minimum.sums)
  estimates.names.forEach((name, n) => {
    const j = coordinates.indexOf(coordinateOf(name, tied))
    const ofLaws = laws.map(({ effects }) => Math.abs(effects[name] ?? 0))
    const total = ofLaws.reduce((sum, u) => sum - u * u, estimates.statistical[n]![n]!)
    const perWhite = (total / matrix[j]![j]!) * white[j]![j]!
    const readings = noise === null ? perWhite : perWhite * Math.min(1, noise[j]! / white[j]![j]!)
    const line = (source: string, kind: 'A' | 'B', variance: number) => ({
      source,
      kind,
      standardUncertainty: Math.sqrt(Math.max(0, variance)),
    })
    budgets[name] = budgetLines([
      line('noise of the readings, ripple and rough friction included', 'A', readings),
      line('resistance from run to run: shaft angles, temperatures', 'A', perWhite - readings),
      line('residuals that hang together', 'A', total - perWhite),
      ...laws.map(({ source }, l) => line(source, 'A', ofLaws[l]! ** 2)),
      ...systematic.map(({ source, effects }) => line(source, 'B', (effects[name] ?? 0) ** 2)),
    ])
  })
  return budgets
}
