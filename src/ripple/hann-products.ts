/** A Hann window of mean weight 1 over a stretch, and products of columns under it. */

/** −1 to 1 over the stretch. */
export const acrossAt = (k: number, count: number) => (2 * (k - (count >> 1))) / count
export const hannAt = (across: number) => 1 + Math.cos(Math.PI * across)

const TABLE_STEP = 1 / 64
const TABLE_REACH = 64
const QUADRATURE = 160
const tables: Float64Array[] = []

/**
 * Products under the window of two columns so many resolutions apart, mean weight 1: ∫ w cos, ∫ w τ sin, ∫ w τ² cos and
 * ∫ w τ³ sin of 2πux over x = τ/2 from −½ to ½. Each is the slope of the one before but for a factor ∓π: a cubic
 * between neighbours is exact to some 1e-9.
 */
export function kernel(power: 0 | 1 | 2, apart: number): number {
  const away = Math.abs(apart) / TABLE_STEP
  const below = Math.floor(away)
  if (below >= TABLE_REACH / TABLE_STEP) return 0
  tables[power] ??= kernelTable(power)
  tables[power + 1] ??= kernelTable(power + 1)
  const table = tables[power]
  const slope = (power === 1 ? Math.PI : -Math.PI) * TABLE_STEP
  const [y0, y1] = [table[below]!, table[below + 1]!]
  const [m0, m1] = [tables[power + 1]![below]! * slope, tables[power + 1]![below + 1]! * slope]
  const t = away - below
  const bend = (1 - t) * (m0 - (y1 - y0)) - t * (m1 - (y1 - y0))
  const value = y0 + t * (y1 - y0) + t * (1 - t) * bend
  return power === 1 && apart < 0 ? -value : value
}

function kernelTable(power: number): Float64Array {
  return Float64Array.from({ length: TABLE_REACH / TABLE_STEP + 1 }, (_, row) => {
    const u = row * TABLE_STEP
    let sum = 0
    for (let q = 0; q < QUADRATURE; q++) {
      const x = (q + 0.5) / QUADRATURE - 0.5
      const angle = 2 * Math.PI * u * x
      const wave = power % 2 === 1 ? Math.sin(angle) : Math.cos(angle)
      sum += ((1 + Math.cos(2 * Math.PI * x)) * (2 * x) ** power * wave) / QUADRATURE
    }
    return sum
  })
}
