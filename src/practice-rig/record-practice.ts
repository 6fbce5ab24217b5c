import { countToSi, ModuloUnwrapper, traitsOf } from '../protocol/counts.ts'
import type { BridgeMode } from '../protocol/bridge.ts'
import type { ChannelDeclaration } from '../protocol/channel.ts'
import type { Quantity } from '../records/quantity.ts'
import {
  BRIDGE,
  type BridgeEdge,
  type ChannelTraits,
  type Recording,
} from '../records/recording.ts'
import { NO_GUARDS, type Plant } from './plant.ts'

/** One command to the bridge; a step of a test plan is one. */
export interface PracticeStep {
  readonly bridge: BridgeMode
  readonly setVolt: number
  readonly durationSec: number
}

export interface RecordChoices {
  /** `false`: the bridge column stays, the exact times of its edges are not told. */
  readonly logEdges: boolean
  /** `false`: no bridge column either. */
  readonly logBridge: boolean
}

/**
 * Drives the plant through the steps from its present state and returns the calibrated recording at
 * once, without a protocol between. Sample n (from 1) is taken n / rateHz after the start; steps
 * begin where they fall, on the grid or off it. Ends in coast, with the shaft perhaps still turning.
 */
export function recordPractice(
  plant: Plant,
  steps: readonly PracticeStep[],
  rateHz: number,
  choices: Partial<RecordChoices> = {},
): Recording {
  const logBridge = choices.logBridge ?? true
  const durationSec = steps.reduce((sum, step) => sum + step.durationSec, 0)
  const sampleCount = Math.floor(durationSec * rateHz + 1e-6)
  const startSec = plant.timeSec
  const sampler = plant.setSamplePeriod(1 / rateHz)
  const width = sampler.channels.length
  const counts = new Int32Array(sampleCount * width)
  const bridge = new Uint8Array(sampleCount)
  const timeSec = new Float64Array(sampleCount)
  plant.takeEdges()

  let taken = 0
  let stepEndSec = startSec
  for (const step of steps) {
    plant.setBridge(step.bridge, step.setVolt)
    stepEndSec += step.durationSec
    while (taken < sampleCount) {
      const dueSec = (taken + 1) / rateHz
      if (startSec + dueSec > stepEndSec + 1e-12) break
      plant.advance(startSec + dueSec, NO_GUARDS)
      sampler.read(counts, taken * width)
      timeSec[taken] = dueSec
      bridge[taken] = BRIDGE[step.bridge]
      taken++
    }
    plant.advance(stepEndSec, NO_GUARDS)
  }
  plant.setBridge('coast', 0)

  const edges = plant
    .takeEdges()
    .slice(0, -1)
    .map(
      (edge): BridgeEdge => ({
        timeSec: edge.timeSec - startSec,
        state: edge.mode,
        setVolt: edge.setVolt,
      }),
    )
  const columns: Partial<Record<Quantity, Float64Array>> = {}
  const traits: Partial<Record<Quantity, ChannelTraits>> = {}
  sampler.channels.forEach((channel, index) => {
    columns[channel.quantity] = calibratedColumn(channel, counts, width, index, sampleCount)
    traits[channel.quantity] = traitsOf(channel)
  })
  return {
    sampleCount,
    timeSec,
    columns,
    bridge: logBridge ? bridge : null,
    edges: (choices.logEdges ?? logBridge) ? edges : [],
    traits,
  }
}

function calibratedColumn(
  channel: ChannelDeclaration,
  counts: Int32Array,
  width: number,
  index: number,
  sampleCount: number,
): Float64Array {
  const column = new Float64Array(sampleCount)
  const unwrapper = channel.kind === 'modulo' ? new ModuloUnwrapper(channel.bits) : null
  for (let k = 0; k < sampleCount; k++) {
    const count = counts[k * width + index]!
    column[k] = countToSi(channel, unwrapper === null ? count : unwrapper.next(count))
  }
  return column
}
