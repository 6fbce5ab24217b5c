/** What makes a practice rig harder than the textbook; each can be turned off by itself. */
export const IMPERFECTIONS = [
  'commutationRipple', // torque and back-EMF constants follow the shaft angle
  'windingAngle', // terminal resistance follows the shaft angle
  'contactNoise', // contact resistance changes from segment to segment
  'breakAway', // dry friction is higher at standstill than sliding
  'frictionBumps',
  'frictionDirection',
  'cogging',
  'heating', // winding and housing warm up
  'supplyResistance', // source resistance and hum of the supply
  'calibration', // gain and zero errors of the sensors
  'quantisation', // codes and their limits
  'encoder', // speed from edges in a window; otherwise averaged as the other channels are
] as const

export type Imperfection = (typeof IMPERFECTIONS)[number]
export type Imperfections = Readonly<Record<Imperfection, boolean>>

export interface PracticeSwitches {
  readonly imperfections: Imperfections
  /** Factor on the noise of every channel. */
  readonly noiseScale: number
}

const everywhere = (on: boolean): Imperfections =>
  Object.fromEntries(IMPERFECTIONS.map(name => [name, on])) as Record<Imperfection, boolean>

export const REALISTIC: PracticeSwitches = { imperfections: everywhere(true), noiseScale: 1 }

/** Textbook motor on textbook sensors with light noise. */
export const CLEAN: PracticeSwitches = { imperfections: everywhere(false), noiseScale: 0.25 }

/** `base` with some imperfections turned on or off. */
export function withImperfections(
  base: PracticeSwitches,
  changes: Partial<Imperfections>,
): PracticeSwitches {
  return { ...base, imperfections: { ...base.imperfections, ...changes } }
}
