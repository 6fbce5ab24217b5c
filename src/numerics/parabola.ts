export interface Tried {
  readonly shift: number
  readonly cost: number
}

/** Lowest point of the parabola through three tries, the middle one lowest; not beyond the outer two. */
export function lowest(left: Tried, middle: Tried, right: Tried): Tried {
  const a = (left.cost - middle.cost) / (middle.shift - left.shift)
  const b = (right.cost - middle.cost) / (right.shift - middle.shift)
  const bend = (a + b) / (right.shift - left.shift)
  if (!(bend > 0) || !Number.isFinite(bend)) return middle
  // The slope in the middle of a parabola from those on either side.
  const slope =
    (b * (middle.shift - left.shift) - a * (right.shift - middle.shift)) /
    (right.shift - left.shift)
  const way = Math.min(
    right.shift - middle.shift,
    Math.max(left.shift - middle.shift, -slope / (2 * bend)),
  )
  return { shift: middle.shift + way, cost: middle.cost + slope * way + bend * way * way }
}
