import type { OctaveSpectrum } from '../numerics/spectrum/octave-spectrum.ts'
import { alias } from './alias.ts'
import type { CombSettings } from './comb-settings.ts'
import { heightWithin, type Peak, type PeakList } from './peaks.ts'
import type { Carrier } from './pwm-waveform.ts'

/** A place where a comb has a line, and what the spectrum has there. */
export interface Line {
  readonly kind: 'commutation' | 'unevenness' | 'shaft' | 'switching'
  readonly order: number
  /** Of the line itself; the spectrum may show it folded. */
  readonly frequency: number
  /** By how much averaging over a sample lowers it, ln power. */
  readonly averagedAway: number
  /** Where it is a product with a harmonic of the switching: ln power of that. */
  readonly carrier: number | null
  readonly peak: Peak | null
  /** Whether the switching was taken off where it stands, and it with that. */
  readonly isCovered: boolean
  /** ln of its power; where it is not seen, of what could hide there. */
  readonly height: number
  readonly reachBins: number
}

export interface Sampling {
  readonly rateHz: number
  /** Of one reading; 0 where it is instantaneous. */
  readonly apertureSec: number
}

/** Orders nearer than this many bins are one blur. */
const LEAST_SPACING = 4
/** A line belongs to an order within this many bins, or this share of its frequency: no speed is quite steady. */
const REACH_BINS = 1.3
const REACH_SHARE = 0.0015
/** Nepers of power by which taking the switching off may lower a line of the shaft that stands on one of its. */
const TAKEN_OFF = 10
const MOST_MULTIPLE = 16
/** Multiples beyond half the sample rate that are looked for where they fold to. */
const MOST_FOLDED = 6
/** Lines of unevenness are expected up to this multiple of the commutation, or to this order if that is higher. */
const MOST_UNEVEN = 5
const LEAST_HIGHEST_ORDER = 150
/** Orders below the winding's own that may show. */
const MOST_SHAFT = 4
/** Multiples of the commutation, and first orders of unevenness, that show beside so many harmonics of the switching. */
const MIXED_MULTIPLES = [1, 2, 3]
const MIXED_UNEVEN = [1, 2]
const MOST_MIXED_UNEVEN = 3

/** All lines that the spectrum resolves, the commutation's own first; empty where it does not resolve that one. */
export function expectedLines(
  spectrum: OctaveSpectrum,
  list: PeakList,
  turnRate: number,
  { ripplesPerTurn: n, stride }: CombSettings,
  carriers: readonly Carrier[],
  sampling: Sampling,
): Line[] {
  const lines: Line[] = []
  const taken = new Set<Peak>()
  const place = (
    kind: Line['kind'],
    order: number,
    plain: number,
    spacing: number,
    carrier: number | null = null,
  ) => {
    const frequency = sampling.rateHz * alias(plain / sampling.rateHz)
    const there = list.placeAt(frequency)
    if (there === null || Number.isNaN(there.hidden)) return
    const { binWidth, hidden } = there
    if (spacing < LEAST_SPACING * binWidth) return
    // Only the shaft's part of it moves with the speed.
    const reachBins = Math.max(REACH_BINS, (REACH_SHARE * order * turnRate) / binWidth)
    const averagedAway = lostByAveraging(plain * sampling.apertureSec)
    const isOwn = order === n && kind === 'commutation'
    const push = (peak: Peak | null, height: number, isCovered = false) =>
      lines.push({
        kind,
        order,
        frequency: plain,
        averagedAway,
        carrier,
        peak,
        isCovered,
        height,
        reachBins,
      })
    const peak = there.isCovered ? null : list.near(frequency, reachBins)
    const free = peak && !taken.has(peak) ? peak : null
    if (free) taken.add(free)
    if (free === null && isOwn && there.isBeside) {
      // What stood there was taken off with the switching: how tall the commutation was is open.
      push(null, Math.max(hidden, heightWithin(spectrum, frequency, reachBins)) + TAKEN_OFF, true)
    } else if (!there.isCovered) push(free, free ? Math.log(free.meanSquare) : hidden)
  }
  const nyquistHz = sampling.rateHz / 2
  if (n * turnRate > nyquistHz) return []
  for (let multiple = 1; multiple <= MOST_MULTIPLE; multiple++) {
    const plain = multiple * n * turnRate
    const isFolded = plain > nyquistHz
    if (isFolded && multiple > MOST_FOLDED) break
    place('commutation', multiple * n, plain, isFolded ? Number.POSITIVE_INFINITY : n * turnRate)
    if (multiple === 1 && lines.length === 0) return []
  }
  const highest = Math.max(MOST_UNEVEN * n, LEAST_HIGHEST_ORDER)
  for (let order = stride; order <= highest; order += stride) {
    if (order * turnRate > nyquistHz) break
    if (order % n !== 0) place('unevenness', order, order * turnRate, stride * turnRate)
  }
  for (let order = 1; order <= MOST_SHAFT; order++) {
    if (order % stride !== 0) place('shaft', order, order * turnRate, turnRate)
  }
  for (const { harmonic, frequency, height } of carriers) {
    const uneven = harmonic <= MOST_MIXED_UNEVEN ? MIXED_UNEVEN.map(order => order * stride) : []
    for (const order of [...uneven, ...MIXED_MULTIPLES.map(multiple => multiple * n)]) {
      for (const side of [-1, 1]) {
        const plain = Math.abs(order * turnRate + side * frequency)
        place('switching', order, plain, Number.POSITIVE_INFINITY, height)
      }
    }
  }
  return lines
}

/** By how much a mean over so many periods of a line lowers it, ln power. */
function lostByAveraging(periods: number): number {
  if (periods === 0) return 0
  return -2 * Math.log(Math.abs(Math.sin(Math.PI * periods) / (Math.PI * periods)))
}
