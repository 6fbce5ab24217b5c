import { firstAtOrAfter } from '../base/first-at-or-after.ts'
import { BRIDGE, type Recording } from '../records/recording.ts'
import type { TestPlan } from './test-plan.ts'

/** Where in a recording one drive step of its plan lies: samples `from` up to `to`. */
export interface DriveSpan {
  readonly stepIndex: number
  readonly setVolt: number
  readonly from: number
  readonly to: number
  /** When the bridge took the voltage on. */
  readonly startSec: number
}

/** The bridge was told a voltage in millivolts. */
const SAME_VOLT = 1e-3

/**
 * Matches the plan's drive steps, in order, with the stretches between the recorded edges. Steps of
 * a plan that ended early are missing.
 */
export function driveSpans(recording: Recording, plan: TestPlan): DriveSpan[] {
  const { timeSec } = recording
  if (!timeSec || timeSec.length === 0) return []
  const stretches = drivenStretches(recording, timeSec)
  const spans: DriveSpan[] = []
  let at = 0
  let sameAsBefore = false
  plan.steps.forEach((step, stepIndex) => {
    if (step.bridge !== 'drive') {
      sameAsBefore = false
      return
    }
    const previous = spans.at(-1)
    // A long hold is sent in several commands of one voltage; the bridge shows no edge between them.
    if (sameAsBefore && previous && Math.abs(previous.setVolt - step.setVolt) < SAME_VOLT) return
    const found = stretches.findIndex(
      (stretch, i) =>
        i >= at &&
        (stretch.setVolt === null || Math.abs(stretch.setVolt - step.setVolt) < SAME_VOLT),
    )
    sameAsBefore = true
    if (found < 0) return
    at = found + 1
    const { from, to, startSec } = stretches[found]!
    spans.push({ stepIndex, setVolt: step.setVolt, from, to, startSec })
  })
  return spans
}

interface Stretch {
  readonly setVolt: number | null
  readonly from: number
  readonly to: number
  readonly startSec: number
}

function drivenStretches(recording: Recording, timeSec: Float64Array): Stretch[] {
  return recording.edges.length > 0
    ? stretchesOfEdges(recording, timeSec)
    : stretchesOfColumn(recording.bridge, timeSec)
}

function stretchesOfEdges({ edges }: Recording, timeSec: Float64Array): Stretch[] {
  const stretches: Stretch[] = []
  edges.forEach((edge, i) => {
    if (edge.state !== 'drive') return
    const from = firstAtOrAfter(timeSec, edge.timeSec)
    const next = edges[i + 1]
    const to = next ? firstAtOrAfter(timeSec, next.timeSec) : timeSec.length
    const previous = stretches.at(-1)
    const continues = previous?.to === from && previous.setVolt === edge.setVolt
    if (continues) stretches[stretches.length - 1] = { ...previous, to }
    else if (to > from) stretches.push({ setVolt: edge.setVolt, from, to, startSec: edge.timeSec })
  })
  return stretches
}

function stretchesOfColumn(bridge: Uint8Array | null, timeSec: Float64Array): Stretch[] {
  const stretches: Stretch[] = []
  if (!bridge) return stretches
  for (let from = 0; from < bridge.length; ) {
    let to = from + 1
    while (to < bridge.length && bridge[to] === bridge[from]) to++
    if (bridge[from] === BRIDGE.drive) {
      stretches.push({ setVolt: null, from, to, startSec: timeSec[from]! })
    }
    from = to
  }
  return stretches
}
