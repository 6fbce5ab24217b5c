/// <reference path="../numerics/spectrum/fourier-transform.d.ts" />
import { fft } from 'fourier-transform'
import { windowOf } from '../numerics/spectrum/octave-spectrum.ts'
import { quantileOf } from '../statistics/robust.ts'
import type { EmfPiece } from './emf-course.ts'
import { layOut } from './lay-out.ts'

/** Values laid out a period of the commutation, where the samples allow it. */
export const VALUES_A_RIPPLE = 12
const FRAME_RIPPLES = 24
/** Frames overlap by three quarters. */
const HOPS_A_FRAME = 4
const MOST_FRAMES = 4000
/** Multiples of the commutation whose power counts. */
const MULTIPLES = [1, 2, 3]
/** One line counts for no more than this many times the noise. */
const MOST_EXCESS = 30
const STATE_STEP = 0.004
/** A frame is believed where the lines add up to this many times the noise, over what chance gives. */
const BELIEVED = 6

export interface FollowRange {
  /** ln of the lowest and highest ratio to the expected speed. */
  readonly low: number
  readonly high: number
  /** Usual change of that ln from one frame to the next. */
  readonly stepSpread: number
}

/** The ratio of true to expected speed over a stretch; believed or not, frame by frame. */
export interface Followed {
  /** Sample of the piece in the middle of each frame. */
  readonly places: Float64Array
  /** ln of the ratio. */
  readonly logRatio: Float64Array
  readonly believed: Uint8Array
}

/**
 * Follows the commutation through a stretch in which an expected speed is known to a few per cent (or to a factor, with a
 * wide range). The ripple is laid out over the expected angle, so that it keeps near its place however fast the shaft
 * speeds up; in each short frame the power at the commutation and its multiples is looked up for every ratio,
 * and the path of highest power with small steps is taken through all frames (Viterbi's algorithm).
 *
 * @param turnsPerSample expected speed, sample by sample of the piece; from `from` to `to` of one sign
 */
export function follow(
  piece: EmfPiece,
  turnsPerSample: Float64Array,
  from: number,
  to: number,
  ripplesPerTurn: number,
  range: FollowRange,
): Followed | null {
  const valuesPerRipple = VALUES_A_RIPPLE
  const step = 1 / (ripplesPerTurn * valuesPerRipple)
  const { values, places } = layOut(piece.ripple, turnsPerSample, from, to, step)
  const length = FRAME_RIPPLES * valuesPerRipple
  if (values.length < length / 2) return null
  const frameLength = Math.min(length, values.length)
  const hop = Math.max(
    Math.round(frameLength / HOPS_A_FRAME),
    Math.ceil((values.length - frameLength) / MOST_FRAMES),
  )
  const count = 1 + Math.floor((values.length - frameLength) / hop)
  const size = 2 ** Math.ceil(Math.log2(4 * frameLength))
  const window = windowOf('hann', frameLength)
  const states = Math.max(1, Math.round((range.high - range.low) / STATE_STEP) + 1)
  const scores: Float64Array[] = []
  const middles = new Float64Array(count)
  const frame = new Float64Array(size)
  for (let f = 0; f < count; f++) {
    const start = f * hop
    let mean = 0
    for (let i = 0; i < frameLength; i++) mean += values[start + i]! / frameLength
    frame.fill(0)
    for (let i = 0; i < frameLength; i++) frame[i] = window[i]! * (values[start + i]! - mean)
    const [re, im] = fft(frame)
    middles[f] = places[start + (frameLength >> 1)]!
    scores.push(scoreStates(re, im, size / valuesPerRipple, size / frameLength, states, range.low))
  }
  const path = bestPath(scores, range.stepSpread / STATE_STEP)
  return {
    places: middles,
    logRatio: Float64Array.from(
      path,
      (state, f) => range.low + vertexOf(scores[f]!, state) * STATE_STEP,
    ),
    believed: believe(path, scores),
  }
}

/** Power over the noise of the neighbourhood, summed over the multiples, for each ratio. */
function scoreStates(
  re: Float64Array,
  im: Float64Array,
  commutationBin: number,
  binsAcross: number,
  states: number,
  low: number,
): Float64Array {
  const score = new Float64Array(states)
  for (const multiple of MULTIPLES) {
    const centre = multiple * commutationBin
    const first = Math.floor(0.6 * commutationBin + centre - commutationBin)
    const last = Math.min(re.length - 2, Math.ceil(centre + 0.4 * commutationBin))
    if (last <= first) continue
    const near: number[] = []
    for (let b = Math.max(2, first); b <= last; b += Math.max(1, Math.floor(binsAcross))) {
      near.push(re[b]! ** 2 + im[b]! ** 2)
    }
    // The median of exponential noise is ln 2 of its mean; lines in the neighbourhood raise it a little.
    const floor = quantileOf(near, 0.4) / 0.51
    if (!(floor > 0)) continue
    for (let s = 0; s < states; s++) {
      const place = centre * Math.exp(low + s * STATE_STEP)
      const below = Math.floor(place)
      if (below + 1 >= re.length) break
      const share = place - below
      const power =
        (1 - share) * (re[below]! ** 2 + im[below]! ** 2) +
        share * (re[below + 1]! ** 2 + im[below + 1]! ** 2)
      score[s]! += Math.min(power / floor, MOST_EXCESS)
    }
  }
  return score
}

function bestPath(scores: readonly Float64Array[], spread: number): Int32Array {
  const states = scores[0]!.length
  const reach = Math.max(1, Math.ceil(4 * spread))
  const from = scores.map(() => new Int32Array(states))
  let total = scores[0]!.slice()
  for (let f = 1; f < scores.length; f++) {
    const next = new Float64Array(states)
    for (let s = 0; s < states; s++) {
      let best = Number.NEGATIVE_INFINITY
      let at = s
      for (let o = Math.max(0, s - reach); o <= Math.min(states - 1, s + reach); o++) {
        const step = (s - o) / spread
        const value = total[o]! - 0.5 * step * step
        if (value > best) {
          best = value
          at = o
        }
      }
      next[s] = best + scores[f]![s]!
      from[f]![s] = at
    }
    total = next
  }
  const path = new Int32Array(scores.length)
  let state = total.reduce((best, value, s) => (value > total[best]! ? s : best), 0)
  for (let f = scores.length - 1; f >= 0; f--) {
    path[f] = state
    state = from[f]![state]!
  }
  return path
}

function vertexOf(score: Float64Array, state: number): number {
  if (state === 0 || state === score.length - 1) return state
  const left = score[state - 1]! - score[state]!
  const right = score[state + 1]! - score[state]!
  return left + right < 0
    ? state + Math.max(-0.5, Math.min(0.5, (0.5 * (left - right)) / (left + right)))
    : state
}

/** A frame counts with its neighbours: noise alone gives about one for each multiple. */
function believe(path: Int32Array, scores: readonly Float64Array[]): Uint8Array {
  const heights = Float64Array.from(path, (state, f) => scores[f]![state]!)
  return Uint8Array.from(heights, (_, f) => {
    let sum = 0
    let count = 0
    for (let g = Math.max(0, f - 2); g <= Math.min(heights.length - 1, f + 2); g++) {
      sum += heights[g]!
      count++
    }
    return sum / count > MULTIPLES.length + BELIEVED ? 1 : 0
  })
}
