import { COPPER_ZERO_CELSIUS } from '../motor/winding-temperature.ts'

/**
 * How warm the winding may have become: bounds that hold before anything is known of the motor, and
 * that tighten with every measured rise of its resistance.
 */

/** The hottest coil of a few-slot rotor at standstill takes most of the heat: twice the mean rise. */
export const HOTTEST_OVER_MEAN = 2

/**
 * Heat capacity assumed of a winding of which nothing is known: half a gram of copper at
 * 385 J/(kg K). Smaller windings are those of the tiniest toys. Common practice, no source.
 */
const SMALLEST_WINDING_J_PER_KELVIN = 0.2

/** Copper of the rotor is at least this share of a motor's mass. Common practice, no source. */
const COPPER_SHARE = 0.05
const COPPER_J_PER_KG_KELVIN = 385

/**
 * Least heat capacity of a winding that has resistance R and constant k, in J/K:
 *   C = γ c ρ (l/a)²/R ≥ γ c ρ (k/(B r))²/R
 * for wire of total length l in a parallel paths, whose series length has to reach through the gap
 * at radius r under a flux density B to make k. γ c = 3.45 MJ/(m³ K) and ρ = 17.2 nΩ m of copper;
 * B ≤ 0.8 T and r ≤ 50 mm in motors up to some 500 W (common practice, no source).
 */
export function leastByConstantJPerKelvin(backEmfVsPerRad: number, resistanceOhm: number): number {
  const seriesMetre = backEmfVsPerRad / (0.8 * 0.05)
  return (3.45e6 * 1.72e-8 * seriesMetre * seriesMetre) / resistanceOhm
}

/**
 * A winding gives its heat to iron and housing, whose heat capacity is several times its own; the
 * slowest small motors take this long. What is left cools with the housing. Common practice, no source.
 */
const SLOWEST_WINDING_SEC = 180
const SLOWEST_HOUSING_SEC = 1200
const HOUSING_SHARE = 0.15
/** For the estimate: a usual winding. */
const USUAL_WINDING_SEC = 60

/** What else than warming may move a resistance within a pulse: brushes; a rotor that rocks a little. */
const OTHER_DRIFT_KELVIN = 0.05
const ROCKING_DRIFT_KELVIN = 0.3

export interface WindingHeat {
  /** Assumed before anything was measured. */
  readonly assumedJPerKelvin: number
  /** Σ E²/u² and Σ E ΔT/u² over all pulses seen: what they say of ΔT/E, in K/J. */
  readonly evidence: { readonly squares: number; readonly products: number }
  /** Energy still in the winding at most: the part that leaves with the winding's own time constant, */
  readonly quickJoule: number
  /** and what stays until the housing cools. */
  readonly slowJoule: number
  readonly likelyJoule: number
  readonly atSec: number
}

/** Never lowers what was assumed. */
export function assumeLeast(heat: WindingHeat, jPerKelvin: number): WindingHeat {
  return { ...heat, assumedJPerKelvin: Math.max(heat.assumedJPerKelvin, jPerKelvin) }
}

/** Copper that a motor of this mass has at least. */
export function leastByMassJPerKelvin(motorMassKg: number): number {
  return motorMassKg * COPPER_SHARE * COPPER_J_PER_KG_KELVIN
}

export function coldWinding(nowSec: number): WindingHeat {
  return {
    assumedJPerKelvin: SMALLEST_WINDING_J_PER_KELVIN,
    evidence: { squares: 0, products: 0 },
    quickJoule: 0,
    slowJoule: 0,
    likelyJoule: 0,
    atSec: nowSec,
  }
}

/** Heat capacity that the winding surely has: the evidence less two standard uncertainties. */
export function leastJPerKelvin({ assumedJPerKelvin, evidence }: WindingHeat): number {
  if (evidence.squares === 0) return assumedJPerKelvin
  const perJoule = Math.max(0, evidence.products / evidence.squares)
  return Math.max(assumedJPerKelvin, 1 / (perJoule + 2 / Math.sqrt(evidence.squares)))
}

/** Best estimate, once the warming is significant and does not contradict what was assumed; else null. */
export function likelyJPerKelvin({ assumedJPerKelvin, evidence }: WindingHeat): number | null {
  const { squares, products } = evidence
  if (!(squares > 0) || products < SIGNIFICANT * Math.sqrt(squares)) return null
  return squares / products > assumedJPerKelvin ? squares / products : null
}

const SIGNIFICANT = 4

/** Mean rise over the start of the sequence: at most. */
export function mostRiseKelvin(heat: WindingHeat): number {
  return (heat.quickJoule + heat.slowJoule) / leastJPerKelvin(heat)
}

/** Mean rise over the start of the sequence: probably. */
export function likelyRiseKelvin(heat: WindingHeat): number {
  return heat.likelyJoule / assumedLikely(heat)
}

const assumedLikely = (heat: WindingHeat) => likelyJPerKelvin(heat) ?? 2 * leastJPerKelvin(heat)

/**
 * Rise of a copper winding from the ratio of its resistances:
 *   ΔT = (R2/R1 − 1)(234.5 + T1)
 * T1 in degrees Celsius. Source: resistance method, UL/IEEE; checked in test/procedure/heat.test.ts.
 */
export function riseKelvin(ratio: number, startCelsius: number): number {
  return (ratio - 1) * (COPPER_ZERO_CELSIUS + startCelsius)
}

/** Mean rise that an energy can cause at most, no heat lost. */
export function adiabaticRiseKelvin(energyJoule: number, heat: WindingHeat): number {
  return energyJoule / leastJPerKelvin(heat)
}

/** A pulse in which the resistance was seen to drift: what it says of the heat capacity. */
export interface DriftSeen {
  /** Energy between the two moments at which the resistance was taken. */
  readonly energyJoule: number
  readonly riseKelvin: number
  readonly uncertaintyKelvin: number
  readonly locked: boolean
}

export function learnCapacity(heat: WindingHeat, seen: DriftSeen): WindingHeat {
  const other = seen.locked ? OTHER_DRIFT_KELVIN : ROCKING_DRIFT_KELVIN
  const variance = seen.uncertaintyKelvin ** 2 + other ** 2
  const { squares, products } = heat.evidence
  return {
    ...heat,
    evidence: {
      squares: squares + seen.energyJoule ** 2 / variance,
      products: products + (seen.energyJoule * seen.riseKelvin) / variance,
    },
  }
}

/** After an energy was put in; `likelyJoule` of it into the winding itself, the rest perhaps into the brushes. */
export function warm(
  heat: WindingHeat,
  energyJoule: number,
  likelyJoule: number,
  nowSec: number,
): WindingHeat {
  const cooled = cool(heat, nowSec)
  return {
    ...cooled,
    quickJoule: cooled.quickJoule + (1 - HOUSING_SHARE) * energyJoule,
    slowJoule: cooled.slowJoule + HOUSING_SHARE * energyJoule,
    likelyJoule: cooled.likelyJoule + likelyJoule,
  }
}

export function cool(heat: WindingHeat, nowSec: number): WindingHeat {
  const elapsed = Math.max(0, nowSec - heat.atSec)
  return {
    ...heat,
    quickJoule: heat.quickJoule * Math.exp(-elapsed / SLOWEST_WINDING_SEC),
    slowJoule: heat.slowJoule * Math.exp(-elapsed / SLOWEST_HOUSING_SEC),
    likelyJoule: heat.likelyJoule * Math.exp(-elapsed / USUAL_WINDING_SEC),
    atSec: nowSec,
  }
}

/** A resistance measured again at the same shaft position replaces what was assumed of the cooling. */
export function foundRise(
  heat: WindingHeat,
  meanKelvin: number,
  uncertaintyKelvin: number,
): WindingHeat {
  const most = (Math.max(0, meanKelvin) + 2 * uncertaintyKelvin) * leastJPerKelvin(heat)
  const reckoned = heat.quickJoule + heat.slowJoule
  const share = reckoned > most ? most / reckoned : 1
  return {
    ...heat,
    quickJoule: share * heat.quickJoule,
    slowJoule: share * heat.slowJoule,
    likelyJoule: Math.max(0, meanKelvin) * assumedLikely(heat),
  }
}

/** Mean rise that may still be added before the hottest coil reaches the limit. */
export function allowedMeanRise(heat: WindingHeat, limitKelvin: number): number {
  return Math.max(0, limitKelvin / HOTTEST_OVER_MEAN - mostRiseKelvin(heat))
}
