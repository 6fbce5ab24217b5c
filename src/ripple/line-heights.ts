import type { CombSettings } from './comb-settings.ts'

/**
 * How high the lines of a brushed motor's ripple stand, as far as the number of ripples a turn tells it: ln of the mean
 * square of the back-EMF's ripple over the square of its mean. The fit is to the ring of coils that `solveCommutator` of
 * the practice rig solves, over motors of 3 to 24 segments and brushes of 0.3 to 1.1 segments; what scatters there
 * scatters here, and more, for coils that are not wound as there.
 */
export interface Expectation {
  /** Probability that there is a line at all. */
  readonly share: number
  readonly height: number
  readonly spread: number
}

/** Commutation j of the shaft: multiple 1 is the commutation's own rate. */
export function commutationLine(comb: CombSettings, multiple: number): Expectation {
  const first = commutationHeight(comb)
  // The first one always shows; by how much it differs from what is usual, all others do too.
  if (multiple === 1) return { share: 0.999, height: first, spread: 0.4 }
  const fall = -2.2 - 3 * Math.log(multiple / 2)
  return { share: 0.97, height: first + fall, spread: multiple < 6 ? 1.8 : 2.2 }
}

/**
 * A coil that leaves the sum at an electrical angle h = πp/n leaves a ripple of h²/2, peak to peak over mean (see
 * `torqueRippleShare`); half of it as an amplitude, the square of it as a mean square, and 1.3 dB less for the field's own shape.
 */
function commutationHeight({ ripplesPerTurn: n, stride }: CombSettings): number {
  const h = (Math.PI * polePairsOf(stride)) / n
  return 2 * Math.log((h * h) / 4) - 0.3
}

/** Coils and segments are made alike to about one per cent; the more of them, the better that averages out. */
export function unevennessLine(
  { ripplesPerTurn: n, stride }: CombSettings,
  order: number,
): Expectation {
  const segments = n / (1.4 * polePairsOf(stride))
  const x = order / n
  const fall = -4.2 * (1 - Math.exp(-2.2 * x)) - 0.5 * Math.max(0, x - 1)
  return { share: 0.95, height: -11.5 - 2.4 * Math.log(segments / 4) + fall, spread: 1.7 }
}

/** Friction that is not alike all round, and magnets: orders that the winding's own pattern does not have. */
export const SHAFT_LINE: Expectation = { share: 0.3, height: -15, spread: 3 }

/** Products of the switching with the commutation or with unevenness, against the harmonic that carries them. */
export const SWITCHING_LINE: Expectation = { share: 0.5, height: 0, spread: 2 }
export const SWITCHING_OFFSETS = [
  // Half of the motors do not modulate it enough to see.
  { offset: -60, prior: Math.log(12) },
  ...[0, -2, -4, -6, -8, -10, -12, -14, -16, -18, -20, -22].map(offset => ({ offset, prior: 0 })),
]

/** What the commutation's lines have in common above what is expected, with ln of its prior. */
export const COMMON_OFFSETS = offsetsOf(
  [-7.2, -6, -4.8, -3.6, -2.4, -1.2, 0, 1.2, 2.4, 3.6, 4.8],
  1.5,
)
/** Brushes of about a segment's width make a smooth ripple, narrow ones a sharp one: added to the fall, a neper of the order. */
export const STEEPNESS = offsetsOf([-1.5, 0, 1.5, 3, 4.5], 1.5)
/** The same for unevenness; a motor with a damaged winding is more uneven by far. */
export const UNEVEN_OFFSETS = offsetsOf([-3.6, -2.4, -1.2, 0, 1.2, 2.4, 3.6, 4.8, 6, 7.2, 8.4], 1.2)

export interface Offset {
  readonly offset: number
  readonly prior: number
}

function offsetsOf(offsets: readonly number[], spread: number): readonly Offset[] {
  return offsets.map(offset => ({ offset, prior: longTailed(offset / spread) }))
}

/** Time constants L/R of the winding that are tried, seconds. */
export const WINDING_LAGS = [0, 1, 2, 3, 4, 5, 6, 7].map(step => ({
  lagSec: 5e-5 * 2 ** step,
  prior: longTailed((step - 3) / 2),
}))

/** A normal density within two standard deviations, an exponential one beyond. */
function longTailed(x: number): number {
  const away = Math.abs(x)
  return away < 2 ? -0.5 * away * away : 2 - 2 * away
}

/** The winding's pattern repeats 2p times a turn. */
function polePairsOf(stride: number): number {
  return Math.max(1, stride / 2)
}
