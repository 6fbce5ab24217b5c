import { type Drawing, type Ink, INKS, type Mark, type Point } from './drawing.ts'

export const SHEET_FACE = "'IBM Plex Sans', 'Segoe UI', 'Helvetica Neue', Arial, sans-serif"

/** How a picture is dressed: on paper, or in the colours of a screen's scheme. */
export interface SvgDress {
  readonly inks: Readonly<Record<Ink, string>>
  readonly face: string
}

const ON_PAPER: SvgDress = { inks: INKS, face: SHEET_FACE }

/** A drawing as one SVG element, styled by attributes only: it suits a page that allows no inline style. */
export function drawingToSvg(drawing: Drawing, label: string, dress = ON_PAPER): string {
  const { width, height, marks } = drawing
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${short(width)} ${short(height)}" width="${short(width)}pt" height="${short(height)}pt" font-family="${escapeXml(dress.face)}">`,
    `<title>${escapeXml(label)}</title>`,
    ...marks.map(mark => markToSvg(mark, dress.inks[mark.ink])),
    '</svg>',
  ].join('\n')
}

function markToSvg(mark: Mark, ink: string): string {
  switch (mark.kind) {
    case 'text': {
      const weight = mark.bold ? ' font-weight="600"' : ''
      const anchor = mark.anchor === 'start' ? '' : ` text-anchor="${mark.anchor}"`
      return `<text x="${short(mark.x)}" y="${short(mark.y)}" font-size="${short(mark.size)}" fill="${ink}"${weight}${anchor}>${escapeXml(mark.text)}</text>`
    }
    case 'line': {
      const dash =
        mark.dash.length > 0 ? ` stroke-dasharray="${mark.dash.map(short).join(' ')}"` : ''
      return `<polyline points="${pointList(mark.points)}" fill="none" stroke="${ink}" stroke-width="${short(mark.width)}" stroke-linejoin="round"${dash}/>`
    }
    case 'area': {
      const opacity = mark.opacity < 1 ? ` fill-opacity="${short(mark.opacity)}"` : ''
      return `<polygon points="${pointList(mark.points)}" fill="${ink}"${opacity}/>`
    }
    default:
      return mark satisfies never
  }
}

const pointList = (points: readonly Point[]): string =>
  points.map(([x, y]) => `${short(x)},${short(y)}`).join(' ')

/** A hundredth of a point is finer than any printer. */
const short = (value: number): string => String(Number(value.toFixed(2)))

/** Text for element content and quoted attributes; characters that XML forbids are shown as U+FFFD. */
export function escapeXml(text: string): string {
  return text
    .replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g, '\ufffd')
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll('"', '&quot;')
    .replaceAll("'", '&#39;')
}
