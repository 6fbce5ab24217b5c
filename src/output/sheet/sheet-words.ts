/** The date of an ISO moment. */
export const day = (iso: string): string => iso.slice(0, 10)
/** Date and time of day, UTC: a sheet is read in any zone. */
export const minute = (iso: string): string => `${iso.slice(0, 10)} ${iso.slice(11, 16)} UTC`
export const celsius = (value: number | null): string =>
  value === null ? '–' : `${Number(value.toPrecision(4))}\u00a0°C`.replace('-', '−')
