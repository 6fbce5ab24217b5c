import type { SheetFacts } from '../../src/contract/sheet-facts.ts'
import type { PaperName } from '../../src/output/sheet/paper.ts'
import { sheetCsv } from '../../src/output/sheet/sheet-csv.ts'
import { sheetHtml } from '../../src/output/sheet/sheet-html.ts'
import { sheetPages } from '../../src/output/sheet/sheet-pages.ts'
import { drawingsToPdf } from './pdf-writer.ts'

export const SHEET_FORMATS = ['html', 'pdf', 'json', 'csv'] as const
export type SheetFormat = (typeof SHEET_FORMATS)[number]

/** The sheet of a motor as the bytes of a file. */
export async function sheetFile(
  facts: SheetFacts,
  format: SheetFormat,
  paper: PaperName,
): Promise<Uint8Array> {
  switch (format) {
    case 'html':
      return Buffer.from(sheetHtml(facts, sheetPages(facts, paper), paper))
    case 'pdf':
      return drawingsToPdf(sheetPages(facts, paper), {
        title: `${facts.motor.name}, motor sheet`,
        author: facts.program,
        madeAt: new Date(facts.madeAt),
      })
    case 'json':
      return Buffer.from(`${JSON.stringify(facts, null, 2)}\n`)
    case 'csv':
      return Buffer.from(sheetCsv(facts))
    default:
      return format satisfies never
  }
}
