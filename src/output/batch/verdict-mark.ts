import type { Verdict } from '../../quality/conformity.ts'
import { areaMark, type Ink, type Mark, type Point } from '../drawing.ts'

/** A verdict is told by word, by shape and by colour: a disc passes, a cross fails, a diamond is open. */
export const VERDICT_INK: Readonly<Record<Verdict, Ink>> = {
  pass: 'speed',
  fail: 'current',
  undecided: 'warn',
}

export const VERDICT_WORD: Readonly<Record<Verdict, string>> = {
  pass: 'pass',
  fail: 'FAIL',
  undecided: 'undecided',
}

/** Centred on (x, y). */
export function verdictMarks(x: number, y: number, radius: number, verdict: Verdict): Mark[] {
  const ink = VERDICT_INK[verdict]
  switch (verdict) {
    case 'pass':
      return [areaMark(ring(x, y, radius, 16), ink)]
    case 'undecided':
      return [areaMark(ring(x, y, 1.25 * radius, 4), ink)]
    case 'fail':
      return [bar(x, y, radius, 1), bar(x, y, radius, -1)].map(points => areaMark(points, ink))
    default:
      return verdict satisfies never
  }
}

function ring(x: number, y: number, radius: number, corners: number): Point[] {
  return Array.from({ length: corners }, (_, i) => {
    const angle = (2 * Math.PI * i) / corners
    return [x + radius * Math.cos(angle), y + radius * Math.sin(angle)]
  })
}

/** One stroke of the cross. */
function bar(x: number, y: number, radius: number, lean: 1 | -1): Point[] {
  const w = 0.32 * radius
  const r = radius
  return [
    [x - r - w, y - lean * (r - w)],
    [x - r + w, y - lean * (r + w)],
    [x + r + w, y + lean * (r - w)],
    [x + r - w, y + lean * (r + w)],
  ]
}
