/** Inferred temperature of zero resistance of copper, °C below zero; IEC 60034-1 uses 235, others 234.5. */
export const COPPER_ZERO_CELSIUS = 234.5

/** R(T)/R(T_ref) = (τ + T)/(τ + T_ref) of a copper winding, τ = `COPPER_ZERO_CELSIUS`. */
export function resistanceRatio(celsius: number, referenceCelsius: number): number {
  return (COPPER_ZERO_CELSIUS + celsius) / (COPPER_ZERO_CELSIUS + referenceCelsius)
}
