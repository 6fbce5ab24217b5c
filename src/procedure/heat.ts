/**
 * How warm the winding may have become: bounds that hold before anything is known of the motor, and
 * that tighten with every measured rise of its resistance.
 */

/** Temperature below zero Celsius at which copper's straight line reaches zero ohms. UL/IEEE 112: 234.5. */
export const COPPER_ZERO_KELVIN = 234.5

/** The hottest coil of a few-slot rotor at standstill takes most of the heat: twice the mean rise. */
export const HOTTEST_OVER_MEAN = 2

/**
 * Heat capacity assumed of a winding of which nothing is known: half a gram of copper at
 * 385 J/(kg K). Smaller windings are those of the tiniest toys. Common practice, no source.
 */
export const SMALLEST_WINDING_J_PER_KELVIN = 0.2

/** Copper of the rotor is at least this share of a motor's mass. Common practice, no source. */
const COPPER_SHARE = 0.05
const COPPER_J_PER_KG_KELVIN = 385

/** A bound on the rise fades with the slowest motor's time constant, an estimate with a usual winding's. */
const SLOWEST_COOLING_SEC = 1200
const USUAL_COOLING_SEC = 60

/** No rise is taken to be known better than this, whatever the noise. */
const FINEST_RISE_KELVIN = 0.15

export interface WindingHeat {
  /** Never above the winding's true heat capacity, as far as measured. */
  readonly leastJPerKelvin: number
  /** Best estimate, once a rise was significant. */
  readonly likelyJPerKelvin: number | null
  /** Mean rise over the start of the sequence: upper bound and best estimate. */
  readonly boundKelvin: number
  readonly likelyKelvin: number
  readonly atSec: number
}

export function coldWinding(motorMassKg: number | null, nowSec: number): WindingHeat {
  const byMass = motorMassKg === null ? 0 : motorMassKg * COPPER_SHARE * COPPER_J_PER_KG_KELVIN
  return {
    leastJPerKelvin: Math.max(SMALLEST_WINDING_J_PER_KELVIN, byMass),
    likelyJPerKelvin: null,
    boundKelvin: 0,
    likelyKelvin: 0,
    atSec: nowSec,
  }
}

/**
 * Rise of a copper winding from the ratio of its resistances:
 *   ΔT = (R2/R1 − 1)(234.5 + T1)
 * T1 in degrees Celsius. Source: resistance method, UL/IEEE; checked in test/procedure/heat.test.ts.
 */
export function riseKelvin(ratio: number, startCelsius: number): number {
  return (ratio - 1) * (COPPER_ZERO_KELVIN + startCelsius)
}

/** Mean rise that an energy can cause at most, no heat lost. */
export function adiabaticRiseKelvin(energyJoule: number, heat: WindingHeat): number {
  return energyJoule / heat.leastJPerKelvin
}

/** A pulse in which the resistance was seen to drift: what it says of the heat capacity. */
export interface DriftSeen {
  /** Energy between the two moments at which the resistance was taken. */
  readonly energyJoule: number
  readonly riseKelvin: number
  readonly uncertaintyKelvin: number
}

export function learnCapacity(heat: WindingHeat, seen: DriftSeen): WindingHeat {
  const most = Math.max(seen.riseKelvin, 0) + 2 * seen.uncertaintyKelvin
  const least = seen.energyJoule / Math.max(most, FINEST_RISE_KELVIN)
  const significant =
    seen.riseKelvin > 4 * seen.uncertaintyKelvin && seen.riseKelvin > FINEST_RISE_KELVIN
  return {
    ...heat,
    leastJPerKelvin: Math.max(heat.leastJPerKelvin, least),
    likelyJPerKelvin: significant ? seen.energyJoule / seen.riseKelvin : heat.likelyJPerKelvin,
  }
}

/** After an energy was put in. */
export function warm(heat: WindingHeat, energyJoule: number, nowSec: number): WindingHeat {
  const cooled = cool(heat, nowSec)
  const likely = cooled.likelyJPerKelvin ?? 2 * cooled.leastJPerKelvin
  return {
    ...cooled,
    boundKelvin: cooled.boundKelvin + adiabaticRiseKelvin(energyJoule, cooled),
    likelyKelvin: cooled.likelyKelvin + energyJoule / likely,
  }
}

export function cool(heat: WindingHeat, nowSec: number): WindingHeat {
  const elapsed = Math.max(0, nowSec - heat.atSec)
  return {
    ...heat,
    boundKelvin: heat.boundKelvin * Math.exp(-elapsed / SLOWEST_COOLING_SEC),
    likelyKelvin: heat.likelyKelvin * Math.exp(-elapsed / USUAL_COOLING_SEC),
    atSec: nowSec,
  }
}

/** A resistance measured again at the same shaft position replaces what was assumed of the cooling. */
export function foundRise(
  heat: WindingHeat,
  meanKelvin: number,
  uncertaintyKelvin: number,
): WindingHeat {
  return {
    ...heat,
    boundKelvin: Math.min(heat.boundKelvin, Math.max(0, meanKelvin) + 2 * uncertaintyKelvin),
    likelyKelvin: Math.max(0, meanKelvin),
  }
}

/** Mean rise that may still be added before the hottest coil reaches the limit. */
export function allowedMeanRise(heat: WindingHeat, limitKelvin: number): number {
  return Math.max(0, limitKelvin / HOTTEST_OVER_MEAN - heat.boundKelvin)
}
