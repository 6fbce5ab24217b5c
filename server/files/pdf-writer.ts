import { fileURLToPath } from 'node:url'
import PDFDocument from 'pdfkit'
import { type Drawing, INKS, type Mark } from '../../src/output/drawing.ts'

const FACES = {
  regular: '@expo-google-fonts/ibm-plex-sans/400Regular/IBMPlexSans_400Regular.ttf',
  bold: '@expo-google-fonts/ibm-plex-sans/600SemiBold/IBMPlexSans_600SemiBold.ttf',
} as const

export interface PdfFacts {
  readonly title: string
  readonly author: string
  readonly madeAt: Date
}

/** Drawings as a PDF, one a page, with the letters they use embedded. */
export function drawingsToPdf(pages: readonly Drawing[], facts: PdfFacts): Promise<Buffer> {
  const document = new PDFDocument({
    autoFirstPage: false,
    lang: 'en',
    displayTitle: true,
    info: { Title: facts.title, Creator: facts.author, CreationDate: facts.madeAt },
  })
  for (const [name, file] of Object.entries(FACES)) {
    document.registerFont(name, fileURLToPath(import.meta.resolve(file)))
  }
  const pieces: Buffer[] = []
  const finished = new Promise<Buffer>((resolve, reject) => {
    document.on('data', piece => pieces.push(piece))
    document.on('end', () => resolve(Buffer.concat(pieces)))
    document.on('error', reject)
  })
  for (const page of pages) {
    document.addPage({ size: [page.width, page.height], margin: 0 })
    for (const mark of page.marks) drawMark(document, mark)
  }
  document.end()
  return finished
}

function drawMark(document: PDFKit.PDFDocument, mark: Mark): void {
  const ink = INKS[mark.ink]
  switch (mark.kind) {
    case 'text': {
      document
        .font(mark.bold ? 'bold' : 'regular')
        .fontSize(mark.size)
        .fillColor(ink)
      const text = printable(mark.text)
      const width = document.widthOfString(text)
      const shift = { start: 0, middle: width / 2, end: width }[mark.anchor]
      document.text(text, mark.x - shift, mark.y, { lineBreak: false, baseline: 'alphabetic' })
      break
    }
    case 'line': {
      document.lineWidth(mark.width).lineJoin('round')
      if (mark.dash.length > 0)
        document.dash(mark.dash[0]!, { space: mark.dash[1] ?? mark.dash[0]! })
      else document.undash()
      trace(document, mark.points)
      document.stroke(ink)
      break
    }
    case 'area':
      trace(document, mark.points)
      document.closePath().fillOpacity(mark.opacity).fill(ink).fillOpacity(1)
      break
    default:
      mark satisfies never
  }
}

function trace(document: PDFKit.PDFDocument, points: Extract<Mark, { kind: 'line' }>['points']) {
  for (const [index, [x, y]] of points.entries()) {
    if (index === 0) document.moveTo(x, y)
    else document.lineTo(x, y)
  }
}

/** The face has all but a raised minus; control characters have no place on paper. */
const printable = (text: string): string =>
  text.replaceAll('⁻', '-').replaceAll(/[\u0000-\u001f\u007f-\u009f]/g, '\ufffd')
