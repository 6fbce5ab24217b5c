/**
 * Commutations a turn: a brush changes segment whenever one of N segment edges passes one of 2p brush
 * positions, and edges that pass together count once, so lcm(N, 2p): with two poles 2N for an odd number of
 * segments and N for an even one. Derivation: edges stand at multiples of 1/N of a turn, brushes at
 * multiples of 1/(2p); the instants are the multiples of 1/lcm(N, 2p).
 * @throws RangeError unless segments is a whole number >= 2 and pole pairs one >= 1
 */
export function ripplesPerTurn(segments: number, polePairs = 1): number {
  if (!(Number.isInteger(segments) && segments >= 2)) {
    throw new RangeError(`segments = ${segments}; must be a whole number >= 2`)
  }
  if (!(Number.isInteger(polePairs) && polePairs >= 1)) {
    throw new RangeError(`polePairs = ${polePairs}; must be a whole number >= 1`)
  }
  const brushes = 2 * polePairs
  return (segments * brushes) / greatestCommonDivisor(segments, brushes)
}

/**
 * Torque ripple of N coils at constant current, peak to peak over mean:
 *   (1 − cos h)/(sin h / h),  h = π/2N for odd N, π/N for even N
 * for two poles, sinusoidal torque of one coil and ideal commutation. Mean over maximum is sin h/h.
 * Source: A. Al Mamun, G. Guo, C. Bi, Hard Disk Drive: Mechatronics and Control (2007), eqs 4.44-4.46.
 */
export function torqueRippleShare(segments: number): number {
  // Half of the angle between neighbouring commutations.
  const half = Math.PI / ripplesPerTurn(segments)
  return ((1 - Math.cos(half)) * half) / Math.sin(half)
}

function greatestCommonDivisor(a: number, b: number): number {
  return b === 0 ? a : greatestCommonDivisor(b, a % b)
}
