/** What the bridge does: drives a mean voltage, leaves the terminals open, or shorts them (P-8.1). */
export const BRIDGE_MODES = ['drive', 'coast', 'brake'] as const
export type BridgeMode = (typeof BRIDGE_MODES)[number]

/** Why it changed (P-7.3), and what ended a drive command (P-7.4). */
export const BRIDGE_CAUSES = ['drive', 'duration', 'stop', 'disarm', 'trip'] as const
export type BridgeCause = (typeof BRIDGE_CAUSES)[number]

/** Why a rig opens its bridge by itself (P-8.5), with the unit of the value that its event carries. */
export const TRIP_UNITS = {
  'over-current': 'A',
  'over-speed': 'rad/s',
  'bus-high': 'V',
  'bus-low': 'V',
  stall: 's',
  watchdog: 's',
  'over-temperature': 'degC',
  hardware: '',
} as const

export type TripCause = keyof typeof TRIP_UNITS
export const TRIP_CAUSES = Object.keys(TRIP_UNITS) as readonly TripCause[]
