import { batchCsv } from '../../src/output/batch/batch-csv.ts'
import { type BatchReport, batchPages } from '../../src/output/batch/batch-pages.ts'
import type { PaperName } from '../../src/output/sheet/paper.ts'
import { pagesHtml } from '../../src/output/sheet/sheet-html.ts'
import { drawingsToPdf } from './pdf-writer.ts'
import type { SheetFormat } from './sheet-file.ts'

/** The report on a judged batch as the bytes of a file. */
export async function batchFile(
  report: BatchReport,
  format: SheetFormat,
  paper: PaperName,
): Promise<Uint8Array> {
  const { comparison, program } = report
  const title = `${comparison.batch} against ${comparison.type}`
  switch (format) {
    case 'html':
      return Buffer.from(pagesHtml(comparison.batch, title, batchPages(report, paper), paper))
    case 'pdf':
      return drawingsToPdf(batchPages(report, paper), {
        title,
        author: program,
        madeAt: new Date(comparison.comparedAt),
      })
    case 'json':
      return Buffer.from(`${JSON.stringify(comparison, null, 2)}\n`)
    case 'csv':
      return Buffer.from(batchCsv(comparison))
    default:
      return format satisfies never
  }
}
