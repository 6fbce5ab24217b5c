import { BRIDGE, type BridgeState } from '../../records/recording.ts'
import { voltageJumps } from '../../signals/jumps.ts'
import { findPhases, type Phase } from '../../signals/phases.ts'
import type { RunSignals } from '../../signals/run-signals.ts'

/** A stretch of a run in which the bridge neither changes state nor set voltage. */
export interface BridgeSpan {
  /** −Infinity for the first. */
  readonly startSec: number
  /** Standard uncertainty of the start; 0 where it was logged. */
  readonly doubtSec: number
  readonly terminals: 'driven' | 'open'
}

/**
 * Of an edge that may lie anywhere in the period, and at the same end of it in every one where a controller
 * sets the bridge right after it has sampled: one that lies at an end is no rare one.
 */
const ANYWHERE = 0.5

/**
 * Spans of a run, from the edges the rig logged, else from the bridge column and the jumps of the
 * voltage, else inferred. `periodSec` is the usual time between samples.
 */
export function bridgeSpans(signals: RunSignals, periodSec: number): BridgeSpan[] {
  const { recording } = signals.run
  const { edges, bridge } = recording
  if (edges.length > 0) {
    const first = bridge === null ? 'unknown' : codeName(bridge[0]!)
    const before: BridgeSpan = {
      startSec: Number.NEGATIVE_INFINITY,
      doubtSec: 0,
      terminals: terminalsOf(first === 'unknown' ? stateBefore(signals, edges[0]!.timeSec) : first),
    }
    return [
      before,
      ...edges.map(edge => ({
        startSec: edge.timeSec,
        doubtSec: 0,
        terminals: terminalsOf(edge.state),
      })),
    ]
  }
  return bridge !== null && !bridge.includes(BRIDGE.unknown)
    ? spansOfColumn(signals, bridge, periodSec)
    : inferredSpans(signals, periodSec)
}

function terminalsOf(state: BridgeState): 'driven' | 'open' {
  return state === 'coast' ? 'open' : 'driven'
}

function codeName(code: number): BridgeState {
  if (code === BRIDGE.coast) return 'coast'
  if (code === BRIDGE.brake) return 'brake'
  return code === BRIDGE.drive ? 'drive' : 'unknown'
}

/** What the terminals did before the first edge of a recording without a bridge column. */
function stateBefore(signals: RunSignals, edgeSec: number): BridgeState {
  const { current, voltage, timeSec } = signals
  const something = (signal: RunSignals['current'], i: number) =>
    signal !== null && Math.abs(signal.values[i]!) > Math.max(6 * signal.noise, 0.01 * signal.reach)
  let driven = 0
  let count = 0
  for (let i = 0; i < signals.count && timeSec![i]! < edgeSec; i++) {
    count += 1
    if (something(current, i) || (current === null && something(voltage, i))) driven += 1
  }
  return driven * 2 > count ? 'drive' : 'coast'
}

function spansOfColumn(signals: RunSignals, bridge: Uint8Array, periodSec: number): BridgeSpan[] {
  const starts = new Set<number>()
  for (let i = 1; i < bridge.length; i++) if (bridge[i] !== bridge[i - 1]) starts.add(i)
  if (signals.voltage) {
    for (const i of voltageJumps(signals.voltage.values)) {
      const near = [i - 2, i - 1, i, i + 1].some(j => starts.has(j))
      if (!near && bridge[i] !== BRIDGE.coast) starts.add(i)
    }
  }
  const spans: BridgeSpan[] = [
    {
      startSec: Number.NEGATIVE_INFINITY,
      doubtSec: 0,
      terminals: terminalsOf(codeName(bridge[0]!)),
    },
  ]
  for (const i of [...starts].sort((a, b) => a - b)) {
    const terminals = terminalsOf(codeName(bridge[i]!))
    spans.push({ ...edgeBefore(signals, i, periodSec, terminals), terminals })
  }
  return spans
}

function inferredSpans(signals: RunSignals, periodSec: number): BridgeSpan[] {
  const { phases } = findPhases(signals)
  const spans: BridgeSpan[] = []
  const opens = ({ kind }: Phase) => kind === 'coast' || kind === 'standstill'
  phases.forEach((phase, n) => {
    const next = phases[n + 1]
    const early = next !== undefined && opens(next) && isWithoutCurrent(signals, phase)
    const terminals = opens(phase) || early ? 'open' : 'driven'
    if (spans.length === 0) {
      spans.push({ startSec: Number.NEGATIVE_INFINITY, doubtSec: 0, terminals })
    } else {
      const first = edgeNear(signals.voltage?.values ?? null, phase.start)
      spans.push({ ...edgeBefore(signals, first, periodSec, terminals), terminals })
    }
  })
  if (spans.length === 0) {
    spans.push({ startSec: Number.NEGATIVE_INFINITY, doubtSec: 0, terminals: 'driven' })
  }
  return spans
}

/** A phase no longer than that may be the smoothing of the current before it. */
const SMOOTHED = 20

/** No sample of a short phase but the first shows a current: the terminals opened at its start, not at its end. */
function isWithoutCurrent({ current }: RunSignals, { start, end }: Phase): boolean {
  if (current === null || end - start > SMOOTHED) return false
  const none = 6 * current.noise
  for (let i = start + 1; i < end; i++) if (Math.abs(current.values[i]!) > none) return false
  return true
}

/** A phase begins where its voltage has arrived; so many samples about that may be where it was switched. */
const SEARCHED = 3

/** First sample after the largest change of the voltage about the start of a phase. */
function edgeNear(values: Float64Array | null, start: number): number {
  if (values === null) return start
  const change = (i: number) => Math.abs(values[i]! - values[i - 1]!)
  let edge = start
  for (let i = Math.max(1, start - SEARCHED); i < Math.min(values.length, start + 2); i++) {
    if (change(i) > change(edge)) edge = i
  }
  return edge
}

/**
 * When an edge fell whose first sample is `i`. Where the voltage is a mean over an aperture, the
 * sample that holds some of both sides tells the moment; otherwise it may lie anywhere in the period.
 */
function edgeBefore(
  signals: RunSignals,
  i: number,
  periodSec: number,
  terminals: 'driven' | 'open',
): { startSec: number; doubtSec: number } {
  const time = signals.timeSec!
  const voltage = signals.voltage
  const anywhere = {
    startSec: i > 0 ? (time[i - 1]! + time[i]!) / 2 : time[0]!,
    doubtSec: ANYWHERE * periodSec,
  }
  if (voltage === null || terminals === 'open' || i < 1) return anywhere
  const { apertureSec, delaySec } = voltage.traits
  if (apertureSec < 0.3 * periodSec) return anywhere
  // The mixed sample is the one at i, or the one before where a jump was counted at its end.
  for (const mixed of [i - 1, i]) {
    const old = voltage.values[mixed - 1]
    const now = voltage.values[mixed]
    const next = voltage.values[mixed + 1]
    if (old === undefined || now === undefined || next === undefined) continue
    const jump = next - old
    const limit = 20 * voltage.noise
    if (Math.abs(jump) < limit || Math.abs(now - old) < 0.1 * limit) continue
    const share = (now - old) / jump
    if (share < 0.02 || share > 0.98) continue
    return {
      startSec: time[mixed]! - delaySec - share * apertureSec,
      doubtSec: (1.5 * voltage.noise * apertureSec) / Math.abs(jump),
    }
  }
  return anywhere
}
