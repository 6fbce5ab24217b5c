/** Why the host's watch opens the bridge. The rig has limits of its own beside these. */
export const TRIP_CODES = [
  'over-current',
  'over-speed',
  'bus-voltage',
  'stalled',
  'slip',
  'no-motion',
  'over-temperature',
  'samples-lost',
  'link-silent',
] as const

export type TripCode = (typeof TRIP_CODES)[number]

/** A reason to open the bridge at once. */
export interface Trip {
  readonly code: TripCode
  /** Rig time of the sample that showed it; NaN where no sample did. */
  readonly timeSec: number
  readonly value: number
  readonly limit: number
  /** One line for the operator: what was seen, the limit, what to check. */
  readonly text: string
}

const shown = (value: number) => `${Number(value.toPrecision(3))}`

/** A resistance that says so much is none of a winding. */
const NO_WINDING_KELVIN = 1000

const WORDS: Readonly<Record<TripCode, (value: number, limit: number) => string>> = {
  'over-current': (v, l) => `current ${shown(v)} A above the limit of ${shown(l)} A`,
  'over-speed': (v, l) => `speed ${shown(v)} rad/s above the limit of ${shown(l)} rad/s`,
  'bus-voltage': (v, l) =>
    `bus at ${shown(v)} V, above ${shown(l)} V: a braking motor pumps up a supply that cannot take current back`,
  stalled: (v, l) =>
    `current without rotation for ${shown(v)} s, allowed are ${shown(l)} s: check shaft and load`,
  slip: v => `the locked shaft turned by ${shown((v * 180) / Math.PI)} degrees: tighten the clamp`,
  'no-motion': v =>
    `driven for ${shown(v)} s without turning: is the locking bar still on, the shaft jammed, the speed channel connected?`,
  'over-temperature': (v, l) =>
    v > NO_WINDING_KELVIN
      ? 'hardly any current flows any more: did a thermal cut-out open, a lead come off, the brushes lift?'
      : `the winding warmed by ${shown(v)} K on average, ${shown(l)} K were left: let it cool down`,
  'samples-lost': (v, l) => `no samples for ${shown(v)} s, at most ${shown(l)} s are driven blind`,
  'link-silent': (v, l) =>
    `nothing heard from the rig for ${shown(v)} s, allowed are ${shown(l)} s`,
}

export function tripOf(code: TripCode, timeSec: number, value: number, limit: number): Trip {
  return { code, timeSec, value, limit, text: WORDS[code](value, limit) }
}
