import { failure, type Result, success } from './result.ts'

/** Kinds of number that have units of their own at the edge. */
export type Dimension =
  | 'time'
  | 'voltage'
  | 'current'
  | 'speed'
  | 'angle'
  | 'temperature'
  | 'torque'

/** Value in SI (degrees Celsius for temperatures) = reading × factor + offset. */
export interface Unit {
  readonly dimension: Dimension
  readonly symbol: string
  readonly factor: number
  readonly offset: number
}

const TURN = 2 * Math.PI
/** Speeds are shown in turns a minute, kept in rad/s. */
export const RPM_PER_RAD_PER_SEC = 60 / TURN
/** Standard acceleration of free fall, m/s², exact (ISO 80000-3). */
const STANDARD_GRAVITY = 9.80665
/** Pound, kg, and inch, m, exact (international yard and pound agreement, 1959). */
const POUND = 0.45359237
const INCH = 0.0254

const TABLE: readonly (readonly [Dimension, readonly string[], number, number?])[] = [
  ['time', ['s', 'sec'], 1],
  ['time', ['ms'], 1e-3],
  ['time', ['us', 'µs'], 1e-6],
  ['voltage', ['V'], 1],
  ['voltage', ['mV'], 1e-3],
  ['current', ['A'], 1],
  ['current', ['mA'], 1e-3],
  ['speed', ['rad/s'], 1],
  ['speed', ['rpm', '1/min', 'r/min', 'min-1', 'min^-1', 'rev/min'], TURN / 60],
  ['speed', ['Hz', '1/s', 'rev/s'], TURN],
  ['angle', ['rad'], 1],
  ['angle', ['deg', '°'], TURN / 360],
  ['angle', ['rev'], TURN],
  ['temperature', ['degC', '°C', 'C'], 1],
  ['temperature', ['K'], 1, -273.15],
  ['torque', ['N·m', 'N.m', 'N*m', 'N m', 'Nm'], 1],
  ['torque', ['mN·m', 'mN.m', 'mN*m', 'mN m', 'mNm'], 1e-3],
  ['torque', ['gf·cm', 'gf.cm', 'gf*cm', 'gf cm', 'gfcm', 'g·cm', 'g.cm'], STANDARD_GRAVITY * 1e-5],
  [
    'torque',
    ['ozf·in', 'ozf.in', 'ozf*in', 'ozf in', 'ozf-in', 'oz·in', 'oz.in', 'oz-in', 'oz in'],
    (POUND / 16) * STANDARD_GRAVITY * INCH,
  ],
]

const BY_SPELLING: ReadonlyMap<string, Unit> = new Map(
  TABLE.flatMap(([dimension, spellings, factor, offset]) =>
    spellings.map(
      spelling =>
        [
          plainSpelling(spelling),
          { dimension, symbol: spellings[0]!, factor, offset: offset ?? 0 },
        ] as const,
    ),
  ),
)

/** One spelling for look-alikes: Greek mu for micro sign, any of the dots for the product, no blanks at the ends. */
function plainSpelling(text: string): string {
  return text.trim().replaceAll('μ', 'µ').replace(/[⋅•∙]/g, '·').replace('º', '°')
}

/** Spellings understood for a dimension, the preferred one first: for messages. */
export function unitsOf(dimension: Dimension): string[] {
  return [
    ...new Set(TABLE.filter(([of]) => of === dimension).map(([, spellings]) => spellings[0]!)),
  ]
}

/** The unit behind a spelling, or failure with the words that would be right for the dimension wanted. */
export function parseUnit(text: string): Result<Unit, string> {
  const unit = BY_SPELLING.get(plainSpelling(text))
  return unit ? success(unit) : failure(`unknown unit '${text.trim()}'`)
}

export const toSi = (reading: number, unit: Unit): number => reading * unit.factor + unit.offset

export const fromSi = (value: number, unit: Unit): number => (value - unit.offset) / unit.factor
