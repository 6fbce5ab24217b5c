import type { OctaveSpectrum } from '../numerics/spectrum/octave-spectrum.ts'
import { hiddenHeight, isSwitching, type Peak, type PeakList, type Switching } from './peaks.ts'

/**
 * How well the lines of a spectrum agree with a shaft that turns at a rate and commutates n times a turn. Whatever
 * happens alike every turn stands at whole multiples ("orders") of the rate of turning, and the commutation at
 * multiples of n. The tallest line need not be the commutation's: uneven segments make lines at twice a turn and
 * its multiples. What tells the rate is the whole comb, so each hypothesis is scored by its likelihood: every
 * order that the spectrum resolves shows with a probability and a height of its own, and what it leaves
 * unexplained must be foreign (hum, aliases), which is seldom.
 *
 * Heights are in ln power over the commutation's first line. Their usual values come from the ring of coils that
 * `solveCommutator` of the practice rig solves, over motors of 3 to 24 segments; spreads are wide.
 */
export interface CombScore {
  /** ln likelihood over that of foreign lines alone. */
  readonly total: number
  /** Orders at which a line stands out. */
  readonly seen: readonly SeenLine[]
}

export interface SeenLine {
  readonly order: number
  readonly evidence: number
}

export interface CombSettings {
  readonly ripplesPerTurn: number
  /** Parallel paths of the winding make the pattern repeat 2p times a turn; other orders tell nothing. */
  readonly stride: number
}

/** Orders nearer than this many bins are one blur. */
const LEAST_SPACING = 4
/** A line belongs to an order within this many bins, or this share of its frequency: no speed is quite steady. */
const REACH_BINS = 1.3
const REACH_SHARE = 0.0015
/** Heights of foreign lines are anywhere in this range of ln power. */
const FOREIGN_RANGE = 15
/** Fall of the commutation's own multiples, as powers of the multiple. */
const FALLS = [0, 1.5, 3, 4.5, 6, 8]
const MOST_MULTIPLE = 16
/** From here on a multiple is not taller than this. */
const FAR_MULTIPLE = 5
const FAR_HEIGHT = -3.5
/** Lines of unevenness are expected up to this multiple of the commutation. */
const MOST_UNEVEN = 5
/** Level of the lines of unevenness with its prior weight. */
const LEVELS = [-8, -6.5, -5, -3.5, -2, -0.5, 1].map(level => ({
  level,
  prior: -0.5 * ((level + 4.8) / 2.2) ** 2,
}))

/** With which probability a line shows, and how high. */
interface Expectation {
  readonly share: number
  readonly height: number
  readonly spread: number
}

const ofCommutation = (multiple: number, fall: number): Expectation => ({
  share: 0.95,
  height: Math.min(-fall * Math.log(multiple), multiple < FAR_MULTIPLE ? 0 : FAR_HEIGHT),
  spread: multiple === 1 ? 0.5 : 1.5,
})

function ofUnevenness(order: number, n: number, level: number): Expectation {
  const height = level + Math.min(2.5, -1.9 - 2.6 * Math.log(order / n))
  return { share: 0.95, height, spread: (2 * order) % n === 0 ? 1.2 : 1.8 }
}

const ofSwitching: Expectation = { share: 0.5, height: -3, spread: 2.5 }

export function scoreComb(
  spectrum: OctaveSpectrum,
  list: PeakList,
  turnRate: number,
  { ripplesPerTurn: n, stride }: CombSettings,
  switching: Switching | null,
): CombScore {
  const lines = expectedLines(spectrum, list, turnRate, n, stride, switching)
  const own = lines.find(line => line.kind === 'commutation' && line.order === n)
  if (!own) return { total: Number.NEGATIVE_INFINITY, seen: [] }
  const claimed = new Set(lines.flatMap(line => (line.peak ? [line.peak] : [])))
  const foreignCount = list.peaks.length - claimed.size
  const foreign = Math.log((foreignCount + 1) / list.bins / FOREIGN_RANGE)
  const sum = (kind: Line['kind'], expected: (line: Line) => Expectation) => {
    let total = 0
    for (const line of lines) {
      if (line.kind === kind) total += gain(line, expected(line), own.height, foreign)
    }
    return total
  }
  const regular = Math.max(
    ...FALLS.map(fall => sum('commutation', line => ofCommutation(line.order / n, fall))),
  )
  const uneven = Math.max(
    ...LEVELS.map(
      ({ level, prior }) => prior + sum('unevenness', line => ofUnevenness(line.order, n, level)),
    ),
  )
  const mixed = sum('switching', () => ofSwitching)
  // Against a spectrum of foreign lines alone, each of which would be as likely as this.
  const alone = Math.log((list.peaks.length + 1) / list.bins / FOREIGN_RANGE)
  const total = regular + uneven + mixed + list.peaks.length * (foreign - alone)
  return {
    total,
    seen: lines.flatMap(({ kind, order, peak }) =>
      kind !== 'switching' && peak ? [{ order, evidence: peak.evidence }] : [],
    ),
  }
}

/** ln likelihood of a line as expected over that of a foreign one, or of its absence. */
function gain(line: Line, expected: Expectation, scale: number, foreign: number): number {
  const away = (line.height - scale - expected.height) / expected.spread
  if (line.peak === null) {
    return Math.log(1 - expected.share + expected.share * normalShare(away))
  }
  const density =
    (expected.share * Math.exp(-0.5 * away * away)) /
    (2.5066 * expected.spread * 2 * line.reachBins)
  return Math.max(0, Math.log(density) - foreign)
}

/** Φ(x), to 2 %. */
function normalShare(x: number): number {
  return 1 / (1 + Math.exp(-x * (1.5976 + 0.0706 * x * x)))
}

interface Line {
  readonly kind: 'commutation' | 'unevenness' | 'switching'
  readonly order: number
  readonly peak: Peak | null
  /** ln of its power; where it is not seen, of what could hide there. */
  readonly height: number
  readonly reachBins: number
}

function expectedLines(
  spectrum: OctaveSpectrum,
  list: PeakList,
  turnRate: number,
  n: number,
  stride: number,
  switching: Switching | null,
): Line[] {
  const lines: Line[] = []
  const taken = new Set<Peak>()
  const place = (kind: Line['kind'], order: number, frequency: number, spacing: number) => {
    const hidden = hiddenHeight(spectrum, frequency)
    if (hidden === null || spacing < LEAST_SPACING * hidden.binWidth) return
    const reachBins = Math.max(REACH_BINS, (REACH_SHARE * frequency) / hidden.binWidth)
    if (switching && isSwitching(frequency, hidden.binWidth, switching)) {
      // What is left of the switching covers the place; its height still bounds the commutation's.
      if (order === n && kind === 'commutation') {
        lines.push({ kind, order, peak: null, height: hidden.height, reachBins })
      }
      return
    }
    const peak = list.near(frequency, reachBins)
    const free = peak && !taken.has(peak) ? peak : null
    if (free) taken.add(free)
    const height = free ? Math.log(free.meanSquare) : hidden.height
    lines.push({ kind, order, peak: free, height, reachBins })
  }
  for (let multiple = 1; multiple <= MOST_MULTIPLE; multiple++) {
    place('commutation', multiple * n, multiple * n * turnRate, n * turnRate)
  }
  for (let order = stride; order <= MOST_UNEVEN * n; order += stride) {
    if (order % n !== 0) place('unevenness', order, order * turnRate, stride * turnRate)
  }
  if (switching) {
    for (const order of [stride, n]) {
      for (const multiple of SWITCHING_MULTIPLES) {
        const plain = order * turnRate + multiple * switching.frequency
        const fold = switching.sampleRate * Math.round(plain / switching.sampleRate)
        place('switching', order, Math.abs(plain - fold), Number.POSITIVE_INFINITY)
      }
    }
  }
  return lines
}

/** Products of the switching with the commutation and with the first order of unevenness. */
const SWITCHING_MULTIPLES = [-3, -2, -1, 1, 2, 3]
