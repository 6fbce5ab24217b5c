/** Names that requests carry; apart from the schemas, so that a page that only asks does not carry the validator. */

/** Thermal classes of insulation, IEC 60085 (Y from memory). */
export const INSULATION_NAMES = ['Y', 'A', 'E', 'B', 'F', 'H', 'N', 'R'] as const
export const MAGNET_NAMES = ['ferrite', 'neodymium', 'samarium-cobalt', 'alnico'] as const

export type InsulationName = (typeof INSULATION_NAMES)[number]
export type MagnetName = (typeof MAGNET_NAMES)[number]
