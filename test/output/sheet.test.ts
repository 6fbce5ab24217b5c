import { describe, expect, test } from 'vitest'
import { drawingsToPdf } from '../../server/files/pdf-writer.ts'
import type { SheetFacts } from '../../src/contract/sheet-facts.ts'
import { textbookFit } from '../../src/identify/textbook-fit.ts'
import { csvRow } from '../../src/output/csv-text.ts'
import type { Drawing } from '../../src/output/drawing.ts'
import { PAPERS, type PaperName } from '../../src/output/sheet/paper.ts'
import { sheetCsv } from '../../src/output/sheet/sheet-csv.ts'
import { sheetHtml } from '../../src/output/sheet/sheet-html.ts'
import { sheetPages } from '../../src/output/sheet/sheet-pages.ts'
import { textWidth, wrapText } from '../../src/output/text-width.ts'
import { CLEAN } from '../../src/practice-rig/imperfections.ts'
import { practiceSuite } from '../../src/practice-rig/practice-run.ts'
import { RUN_ENDINGS } from '../../src/records/test-kind.ts'
import { practiceMotor } from '../support/practice.ts'

const runs = practiceSuite(practiceMotor('hazelnut-24'), 3, { rateHz: 3000, switches: CLEAN })
const fit = textbookFit('sample', runs, {
  fixed: {},
  freed: [],
  referenceTemperatureCelsius: 20,
})
if (!fit.ok) throw new Error(fit.error.text)

const facts: SheetFacts = {
  schema: 'sheet/1',
  program: 'rotorfit 0.0.0',
  madeAt: '2026-05-12T13:30:00.000Z',
  motor: {
    name: '=HYPERLINK("x") <script>alert(1)</script> sample',
    type: null,
    serialNumber: '+1',
    lot: '@lot',
    nameplate: '24 V 1.4 A',
    notes: 'ω and µ and '.repeat(40),
  },
  fit: { id: 1, createdAt: '2026-05-12T13:00:00.000Z', document: fit.value },
  outdated: false,
  runs: runs.map(run => ({
    id: run.id,
    kind: run.kind,
    title: '',
    startedAt: '2026-05-12T12:00:00.000Z',
    ending: 'complete' as const,
    sampleCount: run.recording.sampleCount,
    samplesLost: 0,
    ambientCelsius: 23,
    supplyVolt: 24,
    source: null,
  })),
  rigs: [{ model: 'rig', serialNumber: '7', firmware: '1', simulated: true }],
  calibrations: [
    {
      channel: 'current',
      gain: 1.0021,
      gainUncertainty: 0.0008,
      method: 'reference-instruments',
      performedAt: '2026-01-05T10:00:00.000Z',
      validUntil: null,
      references: ['shunt no. 12'],
    },
  ],
}

const texts = (pages: readonly Drawing[]) =>
  pages.flatMap(page => page.marks.flatMap(mark => (mark.kind === 'text' ? [mark] : [])))

describe.each(Object.keys(PAPERS) as PaperName[])('the sheet on %s', paper => {
  const pages = sheetPages(facts, paper)

  test('stays on its paper, every mark of it', () => {
    const { width, height } = PAPERS[paper]
    for (const page of pages) {
      expect([page.width, page.height]).toEqual([width, height])
      for (const mark of page.marks) {
        const points = mark.kind === 'text' ? [[mark.x, mark.y] as const] : mark.points
        for (const [x, y] of points) {
          expect(x).toBeGreaterThanOrEqual(20)
          expect(x).toBeLessThanOrEqual(width - 20)
          expect(y).toBeGreaterThanOrEqual(20)
          expect(y).toBeLessThanOrEqual(height - 15)
        }
      }
    }
  })

  test('no text runs off the right margin', () => {
    for (const mark of texts(pages)) {
      const end = mark.anchor === 'start' ? mark.x + textWidth(mark.text, mark.size, mark.bold) : 0
      expect(end, mark.text).toBeLessThan(PAPERS[paper].width - 10)
    }
  })

  test('states every parameter with its unit, the tests, the calibration, and a place to sign', () => {
    const all = texts(pages)
      .map(mark => mark.text)
      .join('\n')
    for (const words of [
      'Winding resistance',
      'Rotor inertia',
      'Ω',
      'g·cm²',
      'locked-rotor',
      '1.00210(80)',
      'shunt no. 12',
      'signature',
      'simulated: no motor was there',
      `page 1 of ${pages.length}`,
    ]) {
      expect(all).toContain(words)
    }
  })

  test('the lines to sign on never lie on a page of their own, however long the sheet is', () => {
    for (let count = 0; count < 90; count++) {
      const runs = Array.from({ length: count }, (_, at) => ({ ...facts.runs[0]!, id: at + 1 }))
      const long = sheetPages({ ...facts, runs }, paper)
      const last = texts(long.slice(-1)).map(mark => mark.text)
      expect(last.filter(text => text.includes('signature'))).toHaveLength(2)
      // Two titles of lines and the two texts of the foot: what is signed stands above.
      expect(last.length, `${count} runs`).toBeGreaterThan(4)
    }
  })

  test('how a run ended is one word on one line', () => {
    const runs = RUN_ENDINGS.map((ending, at) => ({ ...facts.runs[0]!, id: at + 1, ending }))
    const all = texts(sheetPages({ ...facts, runs }, paper)).map(mark => mark.text)
    for (const ending of RUN_ENDINGS) expect(all).toContain(ending)
  })

  test('a share is told in per cent, without the note for those who read the number', () => {
    const all = texts(pages).map(mark => mark.text)
    expect(all.filter(text => text.includes('0.01 is'))).toEqual([])
    expect(all.some(text => text.startsWith('Scatter of the resistance'))).toBe(true)
  })

  test('is a PDF of that size with its letters embedded', async () => {
    const pdf = await drawingsToPdf(pages, {
      title: 'x',
      author: 'y',
      madeAt: new Date('2026-05-12'),
    })
    const text = pdf.toString('latin1')
    expect(text.startsWith('%PDF-')).toBe(true)
    expect(text).toContain(`/MediaBox [0 0 ${PAPERS[paper].width} ${PAPERS[paper].height}]`)
    expect(text).toContain('/FontFile2')
    expect(text.match(/\/Type \/Page\b/g)?.length).toBe(pages.length)
    expect(pdf.length).toBeLessThan(400_000)
  })
})

describe('the sheet as HTML', () => {
  const html = sheetHtml(facts, sheetPages(facts, 'a4'), 'a4')
  test('carries no script and fetches nothing', () => {
    expect(html).not.toContain('<script')
    expect(html).toContain('&lt;script&gt;')
    expect(html).not.toMatch(/(?:src|href)\s*=/)
    expect(html).toContain("default-src 'none'")
  })
})

describe('the sheet as CSV', () => {
  test('text that a spreadsheet would run is set behind an apostrophe; numbers stay numbers', () => {
    const [, row] = sheetCsv(facts).split('\r\n')
    expect(row!.startsWith(`"'=HYPERLINK(""x"")`)).toBe(true)
    expect(row).toContain(",'+1,'@lot,resistance,")
  })
  test.each([
    [['=1+1', '-5', '+x', '@y', '\tz'], "'=1+1,'-5,'+x,'@y,'\tz\r\n"],
    [[-5, 1e-9, null, Number.NaN], '-5,1e-9,,\r\n'],
    [['a,b', 'say "x"', 'two\nlines'], '"a,b","say ""x""","two\nlines"\r\n'],
  ])('%j', (cells, text) => expect(csvRow(cells)).toBe(text))
})

test('words too long for a line are cut, and lines keep to their width', () => {
  const lines = wrapText(`short ${'x'.repeat(200)} end`, 9, 100)
  expect(lines.length).toBeGreaterThan(5)
  for (const line of lines) expect(textWidth(line, 9)).toBeLessThanOrEqual(100.001)
  expect(lines.join('').replaceAll(' ', '')).toContain('x'.repeat(200))
})
