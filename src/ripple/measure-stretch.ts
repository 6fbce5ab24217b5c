import type { EmfPiece } from './emf-course.ts'
import { type AngleSettings, shaftAngle } from './shaft-angle.ts'

/** A stretch over which the shaft was followed without a break. */
export interface TrackedStretch {
  readonly terminals: 'closed' | 'open'
  /** Direction, from the sign of the back-EMF; positive where no voltage tells it. */
  readonly sign: 1 | -1
  /** Samples of the run, the last one included. */
  readonly start: number
  readonly end: number
  /** Turns since the start of the stretch, sample by sample. */
  readonly turns: Float64Array
  /** Standard uncertainty of the angle, turns: what two readings far apart have each. */
  readonly angleUncertainty: number
  /** Samples that one independent reading of the angle takes. */
  readonly windowSamples: number
}

export type Measured = Omit<TrackedStretch, 'terminals' | 'sign'>

/** A part of a piece with the speed that is expected there. */
export interface ExpectedStretch {
  readonly from: number
  readonly to: number
  readonly turnsPerSample: Float64Array
  /** Whether that speed was told by the stretch as a whole and does not change. */
  readonly isSteady: boolean
}

/** Turns over an expected stretch, sample by sample, as the phase of its ripple tells them. */
export function measureStretch(
  piece: EmfPiece,
  { from, to, turnsPerSample, isSteady }: ExpectedStretch,
  settings: Omit<AngleSettings, 'isSteady'>,
): Measured | null {
  const mostGrowth = isSteady ? 1 : settings.mostGrowth
  const found = shaftAngle(piece, turnsPerSample, from, to, { ...settings, mostGrowth, isSteady })
  if (found === null || !Number.isFinite(found.uncertainty)) return null
  const { places, ahead, uncertainty, overlap } = found
  const last = places.length - 1
  const aheadAt = interpolated(places, ahead, 0, last)
  // Beyond the middle of the outermost windows the phase is known less and less: a hop is kept.
  const hop = last > 0 ? places[1]! - places[0]! : (to - from) / 2
  const endHop = last > 0 ? places[last]! - places[last - 1]! : hop
  const first = isSteady ? from : Math.max(from, Math.round(places[0]! - hop))
  const end = isSteady ? to : Math.min(to, Math.round(places[last]! + endHop))
  const turns = new Float64Array(end - first)
  let angle = 0
  for (let i = 0; i < turns.length; i++) {
    turns[i] = angle + aheadAt(first + i)
    angle += turnsPerSample[first + i]!
  }
  const start = turns[0]!
  return {
    start: piece.start + first,
    end: piece.start + end - 1,
    turns: turns.map(value => value - start),
    angleUncertainty: uncertainty,
    windowSamples: last > 0 ? ((places[last]! - places[0]!) / last) * overlap : to - from,
  }
}

/** From half way to the window before up to half way to the one after. */
export function spanOf(places: Float64Array, f: number, g: number, from: number, to: number) {
  return {
    from: f === 0 ? from : Math.floor((places[f - 1]! + places[f]!) / 2),
    to: g === places.length - 1 ? to : Math.ceil((places[g]! + places[g + 1]!) / 2),
  }
}

/** Straight lines between the windows f to g; beyond them the line goes on. To be asked with rising places. */
export function interpolated(places: Float64Array, values: Float64Array, f: number, g: number) {
  let h = f
  return (place: number) => {
    if (g === f) return values[f]!
    while (h < g - 1 && places[h + 1]! < place) h++
    const share = (place - places[h]!) / (places[h + 1]! - places[h]!)
    return values[h]! + share * (values[h + 1]! - values[h]!)
  }
}
