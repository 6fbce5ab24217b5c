/** A dip in the coherence of so many windows is bridged … */
const LONGEST_DIP = 14
/** … by straight lines through so many windows on either side, if they meet within this part of a ripple. */
const DIP_SIDE = 12
const DIP_MISS = 0.15

/**
 * One window full of sparks makes the phase uncertain around it, though it goes on behind as it was before. Where it
 * seems to have gained or lost a ripple there, the stretch ends.
 */
export function bridgeDips(
  places: Float64Array,
  ahead: Float64Array,
  kept: Float64Array,
  ripplesPerTurn: number,
): void {
  const runs = runsOf(kept)
  for (const [r, [, g]] of runs.entries()) {
    const next = runs[r + 1]
    if (next === undefined || next[0] - g > LONGEST_DIP) continue
    const before = lineThrough(places, ahead, Math.max(runs[r]![0], g - DIP_SIDE), g)
    const after = lineThrough(places, ahead, next[0], Math.min(next[1], next[0] + DIP_SIDE))
    if (before === null || after === null) continue
    const middle = (places[g]! + places[next[0]]!) / 2
    const jump = (after(middle) - before(middle)) * ripplesPerTurn
    if (Math.abs(jump) > DIP_MISS) continue
    for (let w = g + 1; w < next[0]; w++) {
      const share = (places[w]! - places[g]!) / (places[next[0]]! - places[g]!)
      ahead[w] = ahead[g]! + share * (ahead[next[0]]! - ahead[g]!)
      kept[w] = 1
    }
  }
}

function lineThrough(places: Float64Array, values: Float64Array, f: number, g: number) {
  if (g - f < DIP_SIDE / 2) return null
  const count = g - f + 1
  let [x, y] = [0, 0]
  for (let w = f; w <= g; w++) {
    x += places[w]! / count
    y += values[w]! / count
  }
  let [products, squares] = [0, 0]
  for (let w = f; w <= g; w++) {
    products += (places[w]! - x) * (values[w]! - y)
    squares += (places[w]! - x) ** 2
  }
  return (place: number) => y + (products / squares) * (place - x)
}

/** First and last index of each run of ones. */
export function runsOf(flags: Uint8Array | Float64Array): [number, number][] {
  const runs: [number, number][] = []
  for (let f = 0; f < flags.length; f++) {
    if (!flags[f]) continue
    let g = f
    while (g + 1 < flags.length && flags[g + 1]) g++
    runs.push([f, g])
    f = g
  }
  return runs
}
