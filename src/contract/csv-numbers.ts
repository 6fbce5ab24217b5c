/**
 * How the numbers of a foreign file are written. `1.500` and `1,500` are either one and a half or
 * fifteen hundred: the rest of the file tells, or the user does.
 */
export const DECIMAL_SIGNS = ['point', 'comma'] as const
export type DecimalSign = (typeof DECIMAL_SIGNS)[number]

/**
 * `point` and `comma`: that is the decimal sign, the other one may group thousands. `plain`: points,
 * and nothing is grouped, as programs print. `untold`: no number with either sign was seen yet.
 */
export type NumberWriting = DecimalSign | 'plain' | 'untold'

const WITH_POINT = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/
const WITH_COMMA = /^[+-]?(?:\d+,?\d*|,\d+)(?:[eE][+-]?\d+)?$/
const WITHOUT = /^[+-]?\d+(?:[eE][+-]?\d+)?$/
/** A group begins with a digit other than 0: `0.125` is no grouped number. */
const GROUPED_BY_COMMA = /^[+-]?[1-9]\d{0,2}(?:,\d{3})+(?:\.\d*)?$/
const GROUPED_BY_POINT = /^[+-]?[1-9]\d{0,2}(?:\.\d{3})+(?:,\d*)?$/
/** One sign, three digits behind it: a fraction or thousands. */
const EITHER = /^[+-]?[1-9]\d{0,2}[.,]\d{3}$/
const WITH_BOTH_SIGNS = /^[+-]?[\d.,]*\d[\d.,]*(?:[eE][+-]?\d+)?$/

const PLAIN_FORM: Readonly<Record<NumberWriting, RegExp>> = {
  point: WITH_POINT,
  plain: WITH_POINT,
  comma: WITH_COMMA,
  untold: WITHOUT,
}

/** A number without grouping signs; NaN where the text is none. One pattern a cell: most are such. */
export function plainNumber(text: string, writing: NumberWriting): number {
  if (!PLAIN_FORM[writing].test(text)) return Number.NaN
  return Number(writing === 'comma' ? text.replace(',', '.') : text)
}

/** A number with grouping signs, or with a sign that shows for the first time; NaN where the text is none. */
export function unusualNumber(text: string, writing: NumberWriting): number {
  if (writing === 'point' && GROUPED_BY_COMMA.test(text)) return Number(text.replaceAll(',', ''))
  if (writing === 'comma' && GROUPED_BY_POINT.test(text))
    return Number(text.replaceAll('.', '').replace(',', '.'))
  if (writing === 'untold' && WITH_POINT.test(text) && !EITHER.test(text)) return Number(text)
  return Number.NaN
}

/** What is wrong with a text that is a number but for its signs; null for any other. */
export function faultOfSigns(text: string, writing: NumberWriting): string | null {
  if (writing === 'plain' || !/[.,]/.test(text) || !WITH_BOTH_SIGNS.test(text)) return null
  if (writing === 'untold') {
    return EITHER.test(text)
      ? eitherOf(text)
      : `'${text}' comes after whole numbers only, so its signs are not sure; say --decimal comma or --decimal point`
  }
  const [foreign, sign] = writing === 'comma' ? ['.', ','] : [',', '.']
  if (!text.includes(foreign)) return null
  const names = { '.': 'point', ',': 'comma' } as const
  const asMeant = text.split(foreign).length === 2 && !text.includes(sign)
  const right = asMeant ? `write '${text.replace(foreign, sign)}'` : 'leave grouping signs out'
  return `'${text}' has a ${names[foreign as '.' | ',']}, but the decimal sign of the file is the ${writing}; ${right}, or say --decimal ${names[foreign as '.' | ',']} if it is not`
}

const eitherOf = (text: string): string => {
  const digits = text.replace(/[.,]/, '')
  const fraction = text.replace(',', '.')
  const [asFraction, asGroup] = text.includes(',') ? ['comma', 'point'] : ['point', 'comma']
  return `'${text}' may be ${Number(fraction)} or ${digits}, and nothing else in the file tells which; say --decimal ${asFraction} for ${Number(fraction)}, --decimal ${asGroup} for ${digits}`
}

/** A cell that may be read in two ways: where it stands among those looked at, and what to say of it. */
export interface DoubtfulCell {
  readonly row: number
  readonly column: number
  readonly reason: string
}

/**
 * Tells from the first rows how numbers are written. Cells of the columns taken count before all
 * others. A file whose cells are divided by commas keeps them out of its numbers unless they are quoted.
 */
export function tellWriting(
  rows: readonly (readonly string[])[],
  taken: ReadonlySet<number>,
  isDividedByCommas: boolean,
): NumberWriting | DoubtfulCell {
  const own = weigh(rows, column => taken.has(column))
  const all = own.point === own.comma ? weigh(rows, () => true) : own
  const { point, comma } = own.point && own.comma ? own : all
  // Both: the cells of the weaker sign are refused one by one, by their line.
  if (point && comma) return isDividedByCommas ? 'point' : 'comma'
  if (point) return 'point'
  if (comma) return 'comma'
  if (isDividedByCommas && own.eitherPoint) return 'point'
  const doubtful = own.eitherComma ?? own.eitherPoint
  if (doubtful) return doubtful
  return isDividedByCommas ? 'plain' : 'untold'
}

interface Evidence {
  point: boolean
  comma: boolean
  eitherPoint: DoubtfulCell | null
  eitherComma: DoubtfulCell | null
}

function weigh(
  rows: readonly (readonly string[])[],
  counts: (column: number) => boolean,
): Evidence {
  const found: Evidence = { point: false, comma: false, eitherPoint: null, eitherComma: null }
  for (const [row, cells] of rows.entries()) {
    for (const [column, cell] of cells.entries()) {
      if (!counts(column)) continue
      const text = cell.trim()
      const hasPoint = text.includes('.')
      const hasComma = text.includes(',')
      if (!hasPoint && !hasComma) continue
      if (EITHER.test(text)) {
        const doubtful: DoubtfulCell = { row, column, reason: eitherOf(text) }
        if (hasPoint) found.eitherPoint ??= doubtful
        else found.eitherComma ??= doubtful
      } else if (hasComma ? GROUPED_BY_COMMA.test(text) : WITH_POINT.test(text)) found.point = true
      else if (hasPoint ? GROUPED_BY_POINT.test(text) : WITH_COMMA.test(text)) found.comma = true
    }
  }
  return found
}
