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
const FINEST_RISE_KELVIN = 0.1

export interface WindingHeat {
  /** Never above the winding's true heat capacity, as far as measured. */
  readonly leastJPerKelvin: number
  /** Best estimate, once a rise was significant. */
  readonly likelyJPerKelvin: number | null
  /** Energy still in the winding: at most, and probably. */
  readonly mostJoule: number
  readonly likelyJoule: number
  readonly atSec: number
}

export function coldWinding(motorMassKg: number | null, nowSec: number): WindingHeat {
  const byMass = motorMassKg === null ? 0 : motorMassKg * COPPER_SHARE * COPPER_J_PER_KG_KELVIN
  return {
    leastJPerKelvin: Math.max(SMALLEST_WINDING_J_PER_KELVIN, byMass),
    likelyJPerKelvin: null,
    mostJoule: 0,
    likelyJoule: 0,
    atSec: nowSec,
  }
}

/** Mean rise over the start of the sequence: at most. */
export function mostRiseKelvin(heat: WindingHeat): number {
  return heat.mostJoule / heat.leastJPerKelvin
}

/** Mean rise over the start of the sequence: probably. */
export function likelyRiseKelvin(heat: WindingHeat): number {
  return heat.likelyJoule / (heat.likelyJPerKelvin ?? 2 * heat.leastJPerKelvin)
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

/** The least heat capacity is close to the likely one: stronger pulses would teach little more. */
export function capacityIsKnown({ leastJPerKelvin, likelyJPerKelvin }: WindingHeat): boolean {
  return likelyJPerKelvin !== null && leastJPerKelvin > 0.6 * likelyJPerKelvin
}

/** After an energy was put in. */
export function warm(heat: WindingHeat, energyJoule: number, nowSec: number): WindingHeat {
  const cooled = cool(heat, nowSec)
  return {
    ...cooled,
    mostJoule: cooled.mostJoule + energyJoule,
    likelyJoule: cooled.likelyJoule + energyJoule,
  }
}

export function cool(heat: WindingHeat, nowSec: number): WindingHeat {
  const elapsed = Math.max(0, nowSec - heat.atSec)
  return {
    ...heat,
    mostJoule: heat.mostJoule * Math.exp(-elapsed / SLOWEST_COOLING_SEC),
    likelyJoule: heat.likelyJoule * Math.exp(-elapsed / USUAL_COOLING_SEC),
    atSec: nowSec,
  }
}

/** A resistance measured again at the same shaft position replaces what was assumed of the cooling. */
export function foundRise(
  heat: WindingHeat,
  meanKelvin: number,
  uncertaintyKelvin: number,
): WindingHeat {
  const most = Math.max(0, meanKelvin) + 2 * uncertaintyKelvin
  const likelyJPerKelvin = heat.likelyJPerKelvin ?? 2 * heat.leastJPerKelvin
  return {
    ...heat,
    mostJoule: Math.min(heat.mostJoule, most * heat.leastJPerKelvin),
    likelyJoule: Math.max(0, meanKelvin) * likelyJPerKelvin,
  }
}

/** Mean rise that may still be added before the hottest coil reaches the limit. */
export function allowedMeanRise(heat: WindingHeat, limitKelvin: number): number {
  return Math.max(0, limitKelvin / HOTTEST_OVER_MEAN - mostRiseKelvin(heat))
}
