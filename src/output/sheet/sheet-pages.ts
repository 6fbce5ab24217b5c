import type { SheetFacts } from '../../contract/sheet-facts.ts'
import { type Drawing, lineMark, type Mark, textMark } from '../drawing.ts'
import { paragraph, plate, signatures } from './blocks.ts'
import { type Block, columnWidth, flow, gap, signed } from './flow.ts'
import { MARGIN, type PaperName } from './paper.ts'
import { bench, conditions } from './sheet-bench.ts'
import { curves } from './sheet-curves.ts'
import { derived, parameters, warnings } from './sheet-fit.ts'
import { day, minute } from './sheet-words.ts'

/** The sheet of one motor, page by page. */
export function sheetPages(facts: SheetFacts, paper: PaperName): Drawing[] {
  const width = columnWidth(paper)
  const blocks: Block[] = [
    title(facts, width),
    ...identity(facts, width),
    ...parameters(facts, width),
    ...derived(facts, width),
    ...warnings(facts, width),
    ...curves(facts, width),
    ...conditions(facts, width),
    ...bench(facts, width),
  ]
  const lines = signatures(['Tested by, date, signature', 'Checked by, date, signature'], width)
  const pages = flow(signed(blocks, lines), paper)
  return pages.map((page, index) => ({
    ...page,
    marks: [...page.marks, ...footer(facts, page, index + 1, pages.length)],
  }))
}

function title(facts: SheetFacts, width: number): Block {
  return {
    height: 34,
    marks: [
      textMark(0, 12, 'Motor sheet', { size: 9, ink: 'quiet' }),
      textMark(width, 12, `made ${minute(facts.madeAt)}`, { size: 8, ink: 'quiet', anchor: 'end' }),
      lineMark(
        [
          [0, 18],
          [width, 18],
        ],
        { ink: 'ink', width: 1.6 },
      ),
    ],
  }
}

function identity({ motor, fit }: SheetFacts, width: number): Block[] {
  const stated = [
    ['Type', motor.type ?? ''],
    ['Serial number', motor.serialNumber],
    ['Lot', motor.lot],
    ['Plate as read', motor.nameplate],
    ['Fit', `no. ${fit.id}, ${day(fit.createdAt)}`],
    ['Notes', motor.notes],
  ].filter((entry): entry is [string, string] => entry[1] !== '')
  return [
    paragraph(motor.name, width, { size: 17, bold: true }),
    gap(4),
    plate(stated, width),
    gap(4),
  ]
}

function footer(facts: SheetFacts, page: Drawing, number: number, count: number): Mark[] {
  const y = page.height - 24
  const right = page.width - MARGIN.right
  return [
    lineMark([
      [MARGIN.left, y - 11],
      [right, y - 11],
    ]),
    textMark(MARGIN.left, y, `${facts.program} · ${facts.motor.name}`.slice(0, 90), {
      size: 7.2,
      ink: 'quiet',
    }),
    textMark(right, y, `page ${number} of ${count}`, { size: 7.2, ink: 'quiet', anchor: 'end' }),
  ]
}
