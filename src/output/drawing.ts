/**
 * Pictures as lists of marks in points (1/72 inch) from the top left: one description for the screen,
 * for SVG and for PDF.
 */
export interface Drawing {
  readonly width: number
  readonly height: number
  readonly marks: readonly Mark[]
}

export type Ink = keyof typeof INKS

/** Colours on white paper; each has a contrast of 4.5 or more where text is set in it. */
export const INKS = {
  ink: '#16191d',
  quiet: '#54595e',
  edge: '#c4beb0',
  faint: '#efece4',
  paper: '#ffffff',
  act: '#0a5a6b',
  voltage: '#2b3aa8',
  current: '#b34700',
  speed: '#00735c',
  torque: '#6d4a2f',
  warn: '#8a5300',
} as const

export type Point = readonly [x: number, y: number]

export type Mark =
  | {
      readonly kind: 'text'
      readonly x: number
      /** The baseline. */
      readonly y: number
      readonly text: string
      readonly size: number
      readonly bold: boolean
      readonly anchor: 'start' | 'middle' | 'end'
      readonly ink: Ink
    }
  | {
      readonly kind: 'line'
      readonly points: readonly Point[]
      readonly width: number
      readonly ink: Ink
      /** Lengths of stroke and gap; empty for a whole line. */
      readonly dash: readonly number[]
    }
  | {
      readonly kind: 'area'
      readonly points: readonly Point[]
      readonly ink: Ink
      /** 0 to 1. */
      readonly opacity: number
    }

export function textMark(
  x: number,
  y: number,
  text: string,
  options: Partial<Pick<Extract<Mark, { kind: 'text' }>, 'size' | 'bold' | 'anchor' | 'ink'>> = {},
): Mark {
  return { kind: 'text', x, y, text, size: 9, bold: false, anchor: 'start', ink: 'ink', ...options }
}

export function lineMark(
  points: readonly Point[],
  options: Partial<Pick<Extract<Mark, { kind: 'line' }>, 'width' | 'ink' | 'dash'>> = {},
): Mark {
  return { kind: 'line', points, width: 0.7, ink: 'edge', dash: [], ...options }
}

export function areaMark(points: readonly Point[], ink: Ink, opacity = 1): Mark {
  return { kind: 'area', points, ink, opacity }
}

export const boxPoints = (x: number, y: number, width: number, height: number): Point[] => [
  [x, y],
  [x + width, y],
  [x + width, y + height],
  [x, y + height],
]

/** The same marks elsewhere on the paper. */
export function moved(marks: readonly Mark[], dx: number, dy: number): Mark[] {
  const move = ([x, y]: Point): Point => [x + dx, y + dy]
  return marks.map(mark =>
    mark.kind === 'text'
      ? { ...mark, x: mark.x + dx, y: mark.y + dy }
      : { ...mark, points: mark.points.map(move) },
  )
}
