import type { NewRun, SampleBlock } from '../../server/store/run-record.ts'
import type { Channel } from '../../src/records/channel.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import { PLAIN_TRAITS } from '../../src/records/recording.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'

export function channel(name: string, quantity: Quantity, scale = 1, offset = 0): Channel {
  return { name, quantity, scale, offset, traits: PLAIN_TRAITS }
}

export const THREE_CHANNELS: readonly Channel[] = [
  channel('u', 'voltage', 1e-3),
  channel('i', 'current', 2e-3, 0.5),
  channel('n', 'speed', 0.1, -3),
]

export function newRun(motorId: number, changes: Partial<NewRun> = {}): NewRun {
  return {
    motorId,
    kind: 'free-run',
    origin: 'rig',
    conditions: UNKNOWN_CONDITIONS,
    benchId: null,
    rig: null,
    channels: THREE_CHANNELS,
    rateHz: 10_000,
    plan: null,
    source: null,
    ...changes,
  }
}

export const newImport = (motorId: number): NewRun =>
  newRun(motorId, { origin: 'import', channels: [], rateHz: null, source: 'bench.csv' })

/** What channel `c` counts at sequence number `sequence`: all 16 bits, different for every channel. */
export const countAt = (sequence: number, c: number): number =>
  ((((sequence * (7 + 2 * c)) % 65_536) + 65_536) % 65_536) - 32_768

/** `samples` samples of three channels from sequence number `first` on, at 10 kHz. */
export function countBlock(first: number, samples: number, changes: Partial<SampleBlock> = {}) {
  const counts = new Int16Array(samples * 3)
  for (let i = 0; i < samples; i++) {
    for (let c = 0; c < 3; c++) counts[i * 3 + c] = countAt(first + i, c)
  }
  return {
    firstSequence: first,
    startSec: first * 1e-4,
    intervalSec: 1e-4,
    sampleCount: samples,
    counts,
    ...changes,
  }
}
