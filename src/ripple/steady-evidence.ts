import { quantileOf } from '../statistics/robust.ts'
import type { CombSettings } from './comb-settings.ts'
import type { EmfCourse } from './emf-course.ts'
import type { Switching } from './pwm-waveform.ts'
import { settledAfter, settlingOf } from './settling.ts'
import type { SpeedLevel } from './speed-levels.ts'
import { untoned } from './tones.ts'
import { WindowedLines } from './windowed-lines.ts'

/** A stretch of ripple at one speed, as it was read. */
export interface SteadyStretch {
  readonly raw: Float64Array
  readonly switching: Switching | null
}

const VALUES_A_RIPPLE = 12
const MOST_VALUES = 2 ** 14
const LEAST_RIPPLES = 20
/** Places a resolution at which the power is looked up, and of them so many that are worked out together. */
const PLACES = 4
const CHUNK = 64
const NEIGHBOURS = 24
const MULTIPLES = [1, 2, 3]
const MOST_UNEVEN = 12
/** What noise alone gives a line: the mean of ln(1 + x) over an exponential x. */
const BY_CHANCE = 0.5963
/** No single line counts for more than this many times the noise. */
const MOST_EXCESS = 1e5
/** A rate is tried this far to either side. */
const REACH = 0.006
/** Stretches of a level that are shorter than this part of the longest one are left out. */
const LEAST_SHARE = 1 / 3
const LEAST_COVER = 0.5

/**
 * How far the lines of a comb stand out of the noise beside the switching, over one stretch as a whole: the sum of ln(1 + x)
 * over the first multiples of the commutation and the first orders of the winding, x being the power over the noise
 * around, less what chance gives. Unlike the score of a comb it knows no heights; but it sees beside the switching.
 */
export class SteadyEvidence {
  readonly #stretch: SteadyStretch
  readonly #grids = new Map<number, PowerGrid | null>()

  constructor(stretch: SteadyStretch) {
    this.#stretch = stretch
  }

  /** @param turnsPerSample near which the best place is sought */
  of(turnsPerSample: number, comb: CombSettings, reach = REACH): number {
    return this.best([turnsPerSample * (1 - reach), turnsPerSample * (1 + reach)], comb).evidence
  }

  best(
    [low, high]: readonly [number, number],
    comb: CombSettings,
    prior: (turnsPerSample: number) => number = () => 0,
  ): { turnsPerSample: number; evidence: number } {
    const grid = this.#gridFor(high * comb.ripplesPerTurn)
    const none = { turnsPerSample: low, evidence: 0 }
    if (grid === null) return none
    const orders = ordersOf(comb)
    const highest = Math.max(...MULTIPLES) * comb.ripplesPerTurn
    const step = 0.25 / (highest * grid.samples)
    let best = { turnsPerSample: low, evidence: Number.NEGATIVE_INFINITY }
    for (let turns = low; turns <= high; turns += step) {
      let evidence = prior(turns)
      for (const order of orders) evidence += grid.excess(order * turns)
      if (evidence > best.evidence) best = { turnsPerSample: turns, evidence }
    }
    return best.evidence > Number.NEGATIVE_INFINITY ? best : none
  }

  #gridFor(periodsPerSample: number): PowerGrid | null {
    const most = 1 / (VALUES_A_RIPPLE * periodsPerSample)
    const together = 2 ** Math.max(0, Math.floor(Math.log2(most)))
    let grid = this.#grids.get(together)
    if (grid === undefined) {
      grid = gridOf(this.#stretch, together)
      this.#grids.set(together, grid)
    }
    return grid !== null && grid.samples * periodsPerSample > LEAST_RIPPLES ? grid : null
  }
}

export const multiplesOf = ({ ripplesPerTurn }: CombSettings) =>
  MULTIPLES.map(multiple => multiple * ripplesPerTurn)

/** The first multiples of the commutation and the first orders of the winding. */
export function ordersOf(comb: CombSettings): number[] {
  const { ripplesPerTurn: n, stride } = comb
  const uneven = Array.from({ length: MOST_UNEVEN }, (_, k) => (k + 1) * stride)
  return [...multiplesOf(comb), ...uneven.filter(order => order < n)]
}

/** The longer stretches of a level, each to be asked by itself; what the noise of the back-EMF cuts up counts as one. */
export function evidenceAt({ spans }: SpeedLevel, { pieces }: EmfCourse): SteadyEvidence[] {
  const whole = pieces.flatMap(piece => {
    const inside = spans.filter(({ start, end }) => start >= piece.start && end <= piece.end)
    if (inside.length === 0) return []
    const hull = {
      start: Math.min(...inside.map(({ start }) => start)),
      end: Math.max(...inside.map(({ end }) => end)),
    }
    const counted = inside.reduce((sum, { start, end }) => sum + end - start, 0)
    const used = counted > LEAST_COVER * (hull.end - hull.start) ? [hull] : inside
    return used.map(span => ({ ...span, piece }))
  })
  const longest = Math.max(...whole.map(({ start, end }) => end - start))
  return whole
    .filter(({ start, end }) => end - start >= LEAST_SHARE * longest)
    .map(({ start, end, piece }) => {
      const settling =
        piece.emf && settlingOf(piece.emf.subarray(start - piece.start, end - piece.start))
      const from = start + (settling ? settledAfter(settling, end - start) : 0)
      const raw = piece.raw.subarray(from - piece.start, end - piece.start)
      return new SteadyEvidence({ raw, switching: piece.switching })
    })
}

interface PowerGrid {
  /** Of the stretch that were used. */
  readonly samples: number
  /** ln(1 + x) less what chance gives, at so many periods a sample; 0 where nothing can be seen. */
  readonly excess: (periodsPerSample: number) => number
}

function gridOf({ raw, switching }: SteadyStretch, most: number): PowerGrid | null {
  const used = raw.subarray(Math.max(0, raw.length - MOST_VALUES * most))
  if (used.length < 4 * NEIGHBOURS * most) return null
  const { values, tones, together } = untoned(used, switching, most)
  const lines = new WindowedLines(values, tones)
  const perBin = PLACES * values.length
  const count = Math.floor(0.49 * perBin)
  const powers = new Float64Array(count).fill(Number.NaN)
  const floors = new Float64Array(Math.ceil(count / CHUNK)).fill(Number.NaN)
  const fill = (chunk: number) => {
    const from = Math.max(1, chunk * CHUNK)
    const places = Array.from(
      { length: Math.min(count, (chunk + 1) * CHUNK) - from },
      (_, k) => from + k,
    )
    const found = lines.beside(places.map(place => place / perBin))
    for (const [k, place] of places.entries()) powers[place] = found[k]!
    if (chunk === 0) powers[0] = 0
  }
  const powerAt = (place: number) => {
    if (Number.isNaN(powers[place]!)) fill(Math.floor(place / CHUNK))
    return powers[place]!
  }
  const floorAt = (chunk: number) => {
    if (!Number.isNaN(floors[chunk]!)) return floors[chunk]!
    const near: number[] = []
    for (let k = -NEIGHBOURS; k <= NEIGHBOURS; k++) {
      const place = Math.round((chunk + 0.5) * CHUNK) + k * PLACES
      if (place > PLACES && place < count && powerAt(place) > 0) near.push(powerAt(place))
    }
    floors[chunk] = near.length < NEIGHBOURS ? 0 : quantileOf(near, 0.5) / Math.LN2
    return floors[chunk]!
  }
  return {
    samples: values.length * together,
    excess: periodsPerSample => {
      const place = Math.round(periodsPerSample * together * perBin)
      if (place <= PLACES || place >= count) return 0
      const floor = floorAt(Math.floor(place / CHUNK))
      if (!(floor > 0)) return 0
      return Math.log1p(Math.min(MOST_EXCESS, powerAt(place) / floor)) - BY_CHANCE
    },
  }
}
