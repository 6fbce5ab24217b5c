export interface Tried {
  readonly shift: number
  readonly cost: number
}

/** Lowest point of the parabola through three tries, the middle one lowest. */
export function vertex(left: Tried, middle: Tried, right: Tried): number {
  const a = (left.cost - middle.cost) / (middle.shift - left.shift)
  const b = (right.cost - middle.cost) / (right.shift - middle.shift)
  const bend = (a + b) / (right.shift - left.shift)
  if (!(bend > 0) || !Number.isFinite(bend)) return middle.shift
  // The slope in the middle of a parabola from those on either side.
  const slope =
    (b * (middle.shift - left.shift) - a * (right.shift - middle.shift)) /
    (right.shift - left.shift)
  return Math.min(right.shift, Math.max(left.shift, middle.shift - slope / (2 * bend)))
}
