/**
 * What a channel measures. Values in memory are SI (temperatures in degrees Celsius, where the trade
 * states them); units are converted where numbers enter or leave.
 */
export const QUANTITIES = [
  'voltage', // V between the motor terminals; positive drives positive current and positive speed
  'current', // A into the positive terminal
  'speed', // rad/s at the motor shaft
  'position', // rad, unwrapped, at the motor shaft
  'temperature', // degC of the winding
  'ambient', // degC of the air
  'torque', // N m at the shaft, positive where the motor drives the load in positive direction
] as const

export type Quantity = (typeof QUANTITIES)[number]

/** Unit in which a column of the quantity is held. */
export const UNIT_OF: Readonly<Record<Quantity, string>> = {
  voltage: 'V',
  current: 'A',
  speed: 'rad/s',
  position: 'rad',
  temperature: 'degC',
  ambient: 'degC',
  torque: 'N m',
}
