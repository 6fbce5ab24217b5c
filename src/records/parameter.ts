/** The parameters of a brushed DC motor that a fit reports, in the order in which they are shown. */
export const PARAMETERS = [
  'resistance',
  'inductance',
  'backEmfConstant',
  'torqueConstant',
  'brushDrop',
  'coulombTorque',
  'staticTorque',
  'viscousCoefficient',
  'windageCoefficient',
  'offsetTorque',
  'inertia',
] as const

export type ParameterName = (typeof PARAMETERS)[number]

/** Unit, symbol of the equations in DEVELOPERS.md, and the words a screen or a report shows. */
export const PARAMETER_FACTS: Readonly<
  Record<ParameterName, { unit: string; symbol: string; label: string }>
> = {
  resistance: { unit: 'ohm', symbol: 'R', label: 'Winding resistance' },
  inductance: { unit: 'H', symbol: 'L', label: 'Winding inductance' },
  backEmfConstant: { unit: 'V s/rad', symbol: 'k_e', label: 'Back-EMF constant' },
  torqueConstant: { unit: 'N m/A', symbol: 'k_t', label: 'Torque constant' },
  brushDrop: { unit: 'V', symbol: 'V_b', label: 'Brush drop' },
  coulombTorque: { unit: 'N m', symbol: 'T_c', label: 'Sliding friction torque' },
  staticTorque: { unit: 'N m', symbol: 'T_s', label: 'Break-away torque' },
  viscousCoefficient: { unit: 'N m s/rad', symbol: 'B', label: 'Viscous friction coefficient' },
  windageCoefficient: { unit: 'N m s2/rad2', symbol: 'C', label: 'Windage coefficient' },
  offsetTorque: { unit: 'N m', symbol: 'T_offset', label: 'Offset torque' },
  inertia: { unit: 'kg m2', symbol: 'J', label: 'Rotor inertia' },
}

export function isParameterName(text: string): text is ParameterName {
  return (PARAMETERS as readonly string[]).includes(text)
}
