/**
 * Numbers as a person reads them: SI prefix, unit, and no digit beyond what the uncertainty
 * supports. A standard uncertainty is written in the concise form 1.234(56) Ω: the digits in
 * parentheses are that of the last digits of the number (GUM, JCGM 100:2008, 7.2.2), two of them at
 * most (7.2.6).
 */
export interface QuantityText {
  /** The number alone, with its uncertainty in parentheses where there is one. */
  readonly number: string
  /** The unit with its prefix, as it is printed; empty for a ratio. */
  readonly unit: string
  /** Number, non-breaking blank, unit. */
  readonly text: string
  /** The SI value is divided by this to get the printed number: for axes that share the scale. */
  readonly factor: number
}

const NOTHING = '–'
const GAP = '\u00a0'
const MINUS = '−'

/** Printed unit for each unit of the records; the rest have their blanks and powers set in type. */
const PRINTED: Readonly<Record<string, string>> = {
  ohm: 'Ω',
  degC: '°C',
  '1': '',
  K: 'K',
  'N m/W^0.5': 'N·m/√W',
}

/** Units that take no SI prefix in the trade. */
const FIXED_SCALE = new Set(['°C', 'K', '', '%', 'rad/s', 'rad', 'rpm', '1/min', 'dB', 'kg·m²'])

const PREFIXES: readonly (readonly [number, string])[] = [
  [1e9, 'G'],
  [1e6, 'M'],
  [1e3, 'k'],
  [1, ''],
  [1e-3, 'm'],
  [1e-6, 'µ'],
  [1e-9, 'n'],
  [1e-12, 'p'],
]

/** `N m s2/rad2` as `N·m·s²/rad²`. */
export function printedUnit(unit: string): string {
  return (
    PRINTED[unit] ??
    unit
      .replaceAll(' ', '·')
      .replaceAll(/(?<=[a-z])2/g, '²')
      .replace('ohm', 'Ω')
  )
}

/** The prefix under which a magnitude has one to three digits before the point. */
export function printedScale(magnitude: number, unit: string): { factor: number; unit: string } {
  const printed = printedUnit(unit)
  // Rotor inertias are told in g·cm² (common practice): kilogram takes no second prefix.
  if (printed === 'kg·m²' && magnitude < 1e-3) return { factor: 1e-7, unit: 'g·cm²' }
  if (FIXED_SCALE.has(printed) || magnitude === 0) return { factor: 1, unit: printed }
  const [factor, prefix] =
    PREFIXES.find(([size]) => magnitude >= size * 0.99995) ?? PREFIXES.at(-1)!
  return { factor, unit: prefix + printed }
}

/**
 * A value with its standard uncertainty, in concise notation: `quantityText(1.23456, 'ohm', 0.0034)`
 * is `1.2346(34) Ω`. Without an uncertainty the value is given to four significant digits; a value
 * that is null or not finite is a dash.
 */
export function quantityText(
  value: number | null | undefined,
  unit: string,
  standardUncertainty?: number | null,
): QuantityText {
  if (value === null || value === undefined || !Number.isFinite(value)) {
    return { number: NOTHING, unit: '', text: NOTHING, factor: 1 }
  }
  const known =
    standardUncertainty !== null &&
    standardUncertainty !== undefined &&
    Number.isFinite(standardUncertainty) &&
    standardUncertainty > 0
  const magnitude = Math.max(Math.abs(value), known ? standardUncertainty : 0)
  const scale = printedScale(magnitude, unit)
  const power = runaway(magnitude / scale.factor)
  const size = scale.factor * 10 ** power
  const number = known
    ? conciseNumber(value / size, standardUncertainty / size) + timesTen(power)
    : significant(value / scale.factor, 4)
  return assemble(number, scale)
}

/** Power of ten to take out of a number that no prefix brings to where it can be read; else 0. */
function runaway(magnitude: number): number {
  const power = magnitude > 0 ? Math.floor(Math.log10(magnitude)) : 0
  return power >= 7 || power < -6 ? power : 0
}

const timesTen = (power: number): string => (power === 0 ? '' : `×10${raised(power)}`)

/** A reading of an instrument: `digits` significant digits, 4 unless told. */
export function readingText(
  value: number | null | undefined,
  unit: string,
  digits = 4,
): QuantityText {
  if (value === null || value === undefined || !Number.isFinite(value))
    return quantityText(null, '')
  const scale = printedScale(Math.abs(value), unit)
  return assemble(significant(value / scale.factor, digits), scale)
}

/** Two ends of an interval on one scale and to one last digit: `1.221 … 1.248 Ω`. */
export function intervalText(lower: number, upper: number, unit: string): QuantityText {
  const scale = printedScale(Math.max(Math.abs(lower), Math.abs(upper)), unit)
  const power = runaway(Math.max(Math.abs(lower), Math.abs(upper)) / scale.factor)
  const size = scale.factor * 10 ** power
  const [low, high] = [lower / size, upper / size]
  // A 95 % interval is about four standard uncertainties wide.
  const decimals = decimalsFor(Math.abs(high - low) / 4)
  const ends = `${fixed(low, decimals)} … ${fixed(high, decimals)}`
  return assemble(power === 0 ? ends : `(${ends})${timesTen(power)}`, scale)
}

/** A share of one as a percentage with its sign. */
export function shareText(share: number): string {
  return `${fixed(100 * share, Math.abs(share) < 0.0995 ? 1 : 0)}${GAP}%`
}

function assemble(number: string, scale: { factor: number; unit: string }): QuantityText {
  const text = scale.unit === '' ? number : number + GAP + scale.unit
  return { number, unit: scale.unit, text, factor: scale.factor }
}

function conciseNumber(value: number, uncertainty: number): string {
  const decimals = decimalsFor(uncertainty)
  const shown = fixed(value, decimals)
  if (decimals <= 0) return `${shown}(${fixed(uncertainty, decimals)})`
  const spread = uncertainty.toFixed(decimals)
  return `${shown}(${uncertainty < 1 && Number(spread) < 1 ? spread.replace(/^0\.0*/, '') : spread})`
}

/** Decimals that leave two significant digits of an uncertainty. */
function decimalsFor(uncertainty: number): number {
  if (!(uncertainty > 0)) return 3
  const power = Math.floor(Math.log10(uncertainty))
  // 0.0998 rounds up to 0.10: two digits, not three.
  const rounded = Number((uncertainty / 10 ** power).toFixed(1)) >= 10 ? power + 1 : power
  return Math.min(12, 1 - rounded)
}

function significant(value: number, digits: number): string {
  if (value === 0) return '0'
  const rounded = Number(value.toPrecision(digits))
  const power = Math.floor(Math.log10(Math.abs(rounded)))
  // Ratios and units without prefixes run off the end of what can be read.
  if (power >= 7 || power < -6) {
    return fixed(rounded / 10 ** power, digits - 1) + timesTen(power)
  }
  return fixed(rounded, Math.min(12, digits - 1 - power))
}

const raised = (power: number): string =>
  String(power).replaceAll(/./g, sign => (sign === '-' ? '⁻' : '⁰¹²³⁴⁵⁶⁷⁸⁹'[Number(sign)]!))

/** Rounded to decimals, which may be negative; a rounded zero has no sign; minus is a minus. */
function fixed(value: number, decimals: number): string {
  const step = 10 ** Math.max(0, -decimals)
  const text = (Math.round(value / step) * step).toFixed(0)
  const shown = decimals <= 0 ? text : value.toFixed(decimals)
  return Number(shown) === 0 ? shown.replace('-', '') : shown.replace('-', MINUS)
}
