import { median } from '../statistics/robust.ts'
import { coherence, type Demodulated, demodulate, type LaidOut, unwrapped } from './demodulate.ts'
import type { EmfPiece } from './emf-course.ts'
import { layOut } from './lay-out.ts'

/** The angle of the shaft over a stretch, as the phase of its ripple tells it. */
export interface ShaftAngle {
  /** Samples of the piece at the middle of each window … */
  readonly places: Float64Array
  /** … and by how many turns the shaft is ahead of what was expected there. */
  readonly ahead: Float64Array
  /** Standard uncertainty of that, turns; infinite where there are too few windows to tell. */
  readonly uncertainty: number
  /** Coherence of the phases around each window, 0 to 1. */
  readonly coherence: Float64Array
  /** Windows overlap: every so many of them are independent. */
  readonly overlap: number
}

export interface AngleSettings {
  readonly ripplesPerTurn: number
  readonly stride: number
  /** Orders, beside the commutation's own, whose phase helps. */
  readonly orders: readonly number[]
  /** Those that tell a steady speed: the commutation's own is not among them where it is covered. */
  readonly steadyOrders: readonly number[]
  /** L/R in samples: the current's ripple lags behind the back-EMF's by atan(ω j L/R). */
  readonly lagSamples: number
  /** Windows may be this many times as long as they must. */
  readonly mostGrowth: number
  /**
   * Whether the expected speed is right over the stretch as a whole: then no phase strays by half a period, all orders
   * count alike, and one that is lost in noise gains or loses no ripple.
   */
  readonly isSteady: boolean
}

const VALUES_A_RIPPLE = 12
const LEAST_RIPPLES = 10
const HOPS_A_WINDOW = 4
/** Windows grow until the phase of the commutation scatters by less than this, radians. */
const WANTED_SCATTER = 0.25
/** Phases of the other orders are taken against their mean over so many windows to either side. */
const NEIGHBOURS = 12
const COHERENCE_REACH = 4

/**
 * Demodulates the ripple at the expected angle. A Hann window that spans a whole number of the winding's repeats (two
 * at least) is blind to all other orders of the shaft, so that uneven segments do not make the angle wobble. The phase
 * left over, divided by the order, corrects the expected angle; all orders that show are put together, each by its own
 * scatter.
 */
export function shaftAngle(
  piece: EmfPiece,
  turnsPerSample: Float64Array,
  from: number,
  to: number,
  settings: AngleSettings,
): ShaftAngle | null {
  const { ripplesPerTurn: n, stride } = settings
  const step = 1 / (n * VALUES_A_RIPPLE)
  const { values, places } = layOut(piece.ripple, turnsPerSample, from, to, step)
  const repeat = (n / stride) * VALUES_A_RIPPLE
  const repeats = Math.max(2, Math.ceil((LEAST_RIPPLES * stride) / n))
  let best: (ShaftAngle & { scatter: number }) | null = null
  for (let growth = 1; growth <= settings.mostGrowth; growth *= 2) {
    const length = Math.round(growth * repeats * repeat)
    if (length > values.length) break
    const angle = atLength(values, places, turnsPerSample, length, step, settings)
    if (best === null || angle.scatter < 0.7 * best.scatter) best = angle
    if (angle.scatter <= WANTED_SCATTER) break
  }
  // Too few ripples for whole repeats: windows as they must be, uneven segments or not.
  const shortest = LEAST_RIPPLES * VALUES_A_RIPPLE
  if (best === null && values.length >= shortest) {
    return atLength(values, places, turnsPerSample, shortest, step, { ...settings, orders: [] })
  }
  return best
}

function atLength(
  values: Float64Array,
  places: Float64Array,
  turnsPerSample: Float64Array,
  length: number,
  step: number,
  settings: AngleSettings,
): ShaftAngle & { readonly scatter: number } {
  const { ripplesPerTurn: n, orders, lagSamples } = settings
  const hop = Math.max(1, Math.round(length / HOPS_A_WINDOW))
  const count = 1 + Math.floor((values.length - length) / hop)
  const laidOut: LaidOut = { values, step, length, hop, count }
  const middles = Float64Array.from({ length: count }, (_, w) => places[w * hop + (length >> 1)]!)
  const lag = (order: number) => (w: number) =>
    Math.atan(2 * Math.PI * order * turnsPerSample[Math.floor(middles[w]!)]! * lagSamples)
  const common = { places: middles, overlap: HOPS_A_WINDOW / 2 }
  if (settings.isSteady) {
    const seen = settings.steadyOrders.map(order => {
      const wave = demodulate(laidOut, order, lag(order))
      const { phase, sigma } = phaseAgainst(wave, order, new Float64Array(count), count)
      return { order, phase, sigma, coherence: alike(wave) }
    })
    const { ahead, weights } = together(seen, new Float64Array(count))
    const most = Math.max(...seen.map(one => one.coherence))
    return {
      ...common,
      ahead,
      uncertainty: 1 / Math.sqrt(weights),
      coherence: new Float64Array(count).fill(most),
      scatter: seen[0]!.sigma,
    }
  }
  const own = demodulate(laidOut, n, lag(n))
  const phases = unwrapped(own)
  const ahead = phases.map(phase => phase / (2 * Math.PI * n))
  const scatter = phaseScatter(phases)
  const others = orders.flatMap(order => {
    if (order === n) return []
    const wave = demodulate(laidOut, order, lag(order))
    return [{ order, ...phaseAgainst(wave, order, ahead, NEIGHBOURS) }]
  })
  const unmoved = { order: n, phase: new Float64Array(count), sigma: scatter }
  const all = together([unmoved, ...others], ahead)
  return {
    ...common,
    ahead: all.ahead,
    uncertainty: 1 / Math.sqrt(all.weights),
    coherence: coherence(own, phases, COHERENCE_REACH),
    scatter,
  }
}

/** Phases of several orders put together, each by its own scatter, on top of an angle that is known. */
function together(
  orders: readonly { order: number; phase: Float64Array; sigma: number }[],
  known: Float64Array,
): { ahead: Float64Array; weights: number } {
  let weights = 0
  const correction = new Float64Array(known.length)
  for (const { order, phase, sigma } of orders) {
    const weight = (2 * Math.PI * order) ** 2 / sigma ** 2
    for (let w = 0; w < known.length; w++) {
      correction[w]! += (weight * phase[w]!) / (2 * Math.PI * order)
    }
    weights += weight
  }
  return { ahead: known.map((turns, w) => turns + correction[w]! / weights), weights }
}

/** How much of an order's amplitude is left when all windows are added up: one where the phase stays. */
function alike({ re, im }: Demodulated): number {
  let [x, y, total] = [0, 0, 0]
  for (const [w, value] of re.entries()) {
    x += value
    y += im[w]!
    total += Math.hypot(value, im[w]!)
  }
  return total > 0 ? Math.hypot(x, y) / total : 0
}

/** Scatter of a phase about its own course, radians: of three nearly independent ones, the second difference has 6σ². */
function phaseScatter(phases: Float64Array): number {
  const lag = HOPS_A_WINDOW
  const bends: number[] = []
  for (let w = lag; w + lag < phases.length; w++) {
    bends.push(Math.abs(phases[w - lag]! - 2 * phases[w]! + phases[w + lag]!))
  }
  return bends.length < 3
    ? Number.POSITIVE_INFINITY
    : Math.max(1e-4, (1.4826 * median(bends)) / Math.sqrt(6))
}

/** Phase of an order against its neighbours, once the shaft's angle is known roughly; and its scatter. */
function phaseAgainst(
  { re, im }: Demodulated,
  order: number,
  ahead: Float64Array,
  neighbours: number,
): { phase: Float64Array; sigma: number } {
  const count = re.length
  const x = new Float64Array(count)
  const y = new Float64Array(count)
  for (let w = 0; w < count; w++) {
    const back = -2 * Math.PI * order * ahead[w]!
    x[w] = re[w]! * Math.cos(back) - im[w]! * Math.sin(back)
    y[w] = re[w]! * Math.sin(back) + im[w]! * Math.cos(back)
  }
  const phase = new Float64Array(count)
  for (let w = 0; w < count; w++) {
    let a = 0
    let b = 0
    for (let v = Math.max(0, w - neighbours); v <= Math.min(count - 1, w + neighbours); v++) {
      a += x[v]!
      b += y[v]!
    }
    const away = Math.atan2(y[w]!, x[w]!) - Math.atan2(b, a)
    phase[w] = away - 2 * Math.PI * Math.round(away / (2 * Math.PI))
  }
  // The mean over the neighbours takes part of the scatter with it; a lone window has none to compare.
  const sigma =
    count > HOPS_A_WINDOW ? 1.4826 * median(phase.map(Math.abs)) : Number.POSITIVE_INFINITY
  return { phase, sigma: Math.max(1e-4, sigma) }
}
