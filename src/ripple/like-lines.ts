import type { CombFit } from './comb.ts'
import type { Line } from './expected-lines.ts'

/** A line is tall that stands no lower than this, ln power, below the commutation's. */
const TALL = -2.5
/** The winding's lag and noise change how a line stands against the commutation's by less than this, at whatever speed. */
const LARGEST_CHANGE = 1.8
/** Of the tall lines, this share may disagree, hum and the like among them. */
const MOST_UNLIKE = 0.2
/** Of both speeds together. */
const FEWEST_COMPARED = 2

/**
 * Whether two speeds show the lines of one motor: what stands tall at one does so at the other, where it could be seen. An octave or
 * another multiple of the true rate gives other lines the commutation's place.
 */
export function haveLikeLines(a: CombFit, b: CombFit): boolean {
  const there = comparedTo(a, b)
  const back = comparedTo(b, a)
  const compared = there.compared + back.compared
  return compared >= FEWEST_COMPARED && there.unlike + back.unlike <= MOST_UNLIKE * compared
}

function comparedTo(a: CombFit, b: CombFit): { compared: number; unlike: number } {
  const heightsOfB = relativeHeights(b)
  const tall = [...relativeHeights(a)].filter(([, { isSeen, height }]) => isSeen && height > TALL)
  const compared = tall.flatMap(([name, { height }]) => {
    const other = heightsOfB.get(name)
    // What could hide there, tall or not, tells nothing.
    if (other === undefined || (!other.isSeen && other.height > height)) return []
    return [Math.abs(height - other.height)]
  })
  return {
    compared: compared.length,
    unlike: compared.filter(change => change > LARGEST_CHANGE).length,
  }
}

/** Of all lines but the commutation's own against it, by order; where a line is not seen, of what could hide there. */
function relativeHeights({ lines }: CombFit): Map<number, { isSeen: boolean; height: number }> {
  const heightOf = ({ height, averagedAway }: Line) => height + averagedAway
  const own = heightOf(lines[0]!)
  return new Map(
    lines
      .filter((line, k) => k > 0 && line.kind !== 'switching')
      .map(line => [line.order, { isSeen: line.peak !== null, height: heightOf(line) - own }]),
  )
}
