import type { EmfPiece } from './emf-course.ts'
import type { IdentifiedComb } from './identify-comb.ts'
import { runningMean } from './running-mean.ts'

/** Two levels tell a drop of voltage if one is above the other by this factor. */
const LEVELS_APART = 1.3

/** The back-EMF without its own ripple: a running mean over some ripples of the usual speed. */
export function smoothed(
  emf: Float64Array,
  { emfReachVolt, turnsPerVoltSec, ripplesPerTurn }: IdentifiedComb,
  rateHz: number,
  ripples: number,
): Float64Array {
  const usualHz = emfReachVolt * turnsPerVoltSec * ripplesPerTurn
  const half = Math.max(1, Math.round((ripples * rateHz) / usualHz / 2))
  return runningMean(emf, half)
}

/**
 * Turns a sample at a back-EMF. Where levels of speed differ, the line through them tells turns a volt and a voltage
 * that was not allowed for (brushes, resistance); open terminals have no such drop.
 */
export function expectedSpeed(
  terminals: EmfPiece['terminals'],
  { levels, turnsPerVoltSec }: IdentifiedComb,
  rateHz: number,
): (emfVolt: number) => number {
  const alike = levels.filter(level => level.terminals === terminals)
  if (terminals === 'open' && alike[0] !== undefined) {
    const slope = alike[0].turnsPerSec / alike[0].emfVolt
    return emfVolt => (slope * Math.abs(emfVolt)) / rateHz
  }
  const used = alike.length > 0 ? alike : levels
  const low = used.reduce((a, b) => (b.emfVolt < a.emfVolt ? b : a), used[0]!)
  const high = used.reduce((a, b) => (b.emfVolt > a.emfVolt ? b : a), used[0]!)
  const apart = high.emfVolt > LEVELS_APART * low.emfVolt
  const slope = apart
    ? (high.turnsPerSec - low.turnsPerSec) / (high.emfVolt - low.emfVolt)
    : turnsPerVoltSec
  const drop = terminals === 'open' ? 0 : high.emfVolt - high.turnsPerSec / slope
  return emfVolt => (slope * Math.max(0, Math.abs(emfVolt) - drop)) / rateHz
}
