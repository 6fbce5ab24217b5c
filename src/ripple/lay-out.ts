/**
 * Laying a ripple out over the angle of the shaft instead of time. Speed is proportional to the back-EMF, so over the
 * back-EMF's time integral the ripple keeps its frequency through run-up, steps and coast-down, while what does not follow the
 * shaft (hum, switching) is smeared.
 */

/** Stretches over which a speed keeps its sign and stays above a least magnitude. */
export function turningStretches(speed: Float64Array, least: number): [number, number][] {
  const found: [number, number][] = []
  let from = -1
  for (let i = 0; i <= speed.length; i++) {
    const turns = i < speed.length && Math.abs(speed[i]!) > least
    const goesOn = turns && from >= 0 && speed[i]! * speed[from]! > 0
    if (from >= 0 && !goesOn) {
      found.push([from, i])
      from = -1
    }
    if (turns && from < 0) from = i
  }
  return found
}

/**
 * Means of a ripple over equal steps of a speed's integral; `step` is in units of speed × samples. `places` are the
 * samples, fractions included, at which the steps begin and end.
 */
export function layOut(
  ripple: Float64Array,
  speed: Float64Array,
  from: number,
  to: number,
  step: number,
): { values: Float64Array; places: Float64Array } {
  let total = 0
  for (let i = from; i < to; i++) total += Math.abs(speed[i]!)
  const count = Math.max(0, Math.floor(total / step))
  const values = new Float64Array(count)
  const places = new Float64Array(count + 1)
  places[0] = from
  let turned = 0
  let next = step
  // The running integral of the ripple over time, in samples; a value is its rise over a step.
  let integral = 0
  let before = 0
  let k = 0
  for (let i = from; i < to && k < count; i++) {
    const rise = Math.abs(speed[i]!)
    // Between two samples the ripple is taken as a straight line.
    const here = ripple[i]!
    const slope = (i + 1 < ripple.length ? ripple[i + 1]! : here) - here
    while (turned + rise >= next && k < count) {
      const share = (next - turned) / rise
      const until = integral + share * (here + 0.5 * share * slope)
      const place = i + share
      values[k] = (until - before) / (place - places[k]!)
      places[k + 1] = place
      before = until
      k++
      next += step
    }
    turned += rise
    integral += here + 0.5 * slope
  }
  return { values: values.subarray(0, k), places: places.subarray(0, k + 1) }
}
