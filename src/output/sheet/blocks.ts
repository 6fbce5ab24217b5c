import { lineMark, type Mark, textMark } from '../drawing.ts'
import { textWidth, wrapText } from '../text-width.ts'
import type { Block } from './flow.ts'

const SIZE = 8.6
const LEADING = 1.32

export function heading(text: string, width: number): Block {
  return {
    height: 22,
    withNext: true,
    marks: [
      textMark(0, 13, text, { size: 10.5, bold: true, ink: 'act' }),
      lineMark(
        [
          [0, 17.5],
          [width, 17.5],
        ],
        { ink: 'act', width: 0.9 },
      ),
    ],
  }
}

export function paragraph(
  text: string,
  width: number,
  options: { size?: number; ink?: Extract<Mark, { kind: 'text' }>['ink']; bold?: boolean } = {},
): Block {
  const { size = SIZE, ink = 'ink', bold = false } = options
  const leading = size * LEADING
  const lines = wrapText(text, size, width, bold)
  return {
    height: lines.length * leading + 2,
    marks: lines.map((line, i) => textMark(0, size + i * leading, line, { size, ink, bold })),
  }
}

export interface Column {
  readonly title: string
  readonly width: number
  readonly align: 'start' | 'end'
}

/** Rows of a table, the titles first; a cell that does not fit its column is broken into lines. */
export function table(columns: readonly Column[], rows: readonly (readonly string[])[]): Block[] {
  const titles = tableRow(
    columns,
    columns.map(column => column.title),
    { ink: 'quiet', size: 7.4, rule: false },
  )
  return [
    { ...titles, withNext: true },
    ...rows.map(cells => tableRow(columns, cells, { ink: 'ink', size: SIZE, rule: true })),
  ]
}

function tableRow(
  columns: readonly Column[],
  cells: readonly string[],
  style: { ink: 'ink' | 'quiet'; size: number; rule: boolean },
): Block {
  const leading = style.size * LEADING
  const marks: Mark[] = []
  let x = 0
  let lines = 1
  const total = columns.reduce((sum, column) => sum + column.width, 0)
  if (style.rule) {
    marks.push(
      lineMark([
        [0, 0],
        [total, 0],
      ]),
    )
  }
  for (const [index, column] of columns.entries()) {
    const inner = column.width - 8
    const texts = wrapText(cells[index] ?? '', style.size, inner)
    lines = Math.max(lines, texts.length)
    for (const [line, text] of texts.entries()) {
      if (text === '') continue
      marks.push(
        ...symbolMarks(
          column.align === 'end' ? x + inner : x,
          3 + style.size + line * leading,
          text,
          {
            size: style.size,
            ink: style.ink,
            anchor: column.align,
          },
        ),
      )
    }
    x += column.width
  }
  return { height: lines * leading + 5, marks }
}

/** Text with an index behind an underscore set low: `V_b`. Only short symbols are meant by it. */
function symbolMarks(...[x, y, text, options]: Parameters<typeof textMark>): Mark[] {
  const match = /^([A-Za-z])_([a-z]+)$/.exec(text)
  if (!match) return [textMark(x, y, text, options)]
  const size = options?.size ?? SIZE
  return [
    textMark(x, y, match[1]!, options),
    textMark(x + textWidth(match[1]!, size), y + 0.22 * size, match[2]!, {
      ...options,
      size: 0.72 * size,
    }),
  ]
}

/** Labels over values in columns, like a name plate. */
export function plate(facts: readonly (readonly [string, string])[], width: number): Block {
  const columns = 4
  const cell = width / columns
  const marks: Mark[] = []
  let y = 0
  for (let start = 0; start < facts.length; start += columns) {
    const row = facts.slice(start, start + columns)
    const texts = row.map(([, value]) => wrapText(value, 9.6, cell - 10, true))
    for (const [place, [label]] of row.entries()) {
      marks.push(textMark(place * cell, y + 9, label, { size: 7.2, ink: 'quiet' }))
      for (const [line, text] of texts[place]!.entries()) {
        marks.push(textMark(place * cell, y + 21 + line * 12, text, { size: 9.6, bold: true }))
      }
    }
    y += 15 + 12 * Math.max(...texts.map(lines => lines.length)) + 3
  }
  return { height: y + 2, marks }
}

/** Lines to sign on. */
export function signatures(titles: readonly string[], width: number): Block {
  const cell = (width - 24) / titles.length
  return {
    height: 52,
    marks: titles.flatMap((title, index) => {
      const x = index * (cell + 24)
      return [
        lineMark(
          [
            [x, 34],
            [x + cell, 34],
          ],
          { ink: 'ink', width: 0.8 },
        ),
        textMark(x, 45, title, { size: 7.6, ink: 'quiet' }),
      ]
    }),
  }
}
