import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { onTestFinished } from 'vitest'
import { openStore } from '../../server/store/open-store.ts'
import type { NewRun, SampleBlock } from '../../server/store/run-record.ts'
import type { Store, StoreOptions } from '../../server/store/store.ts'
import type { Channel } from '../../src/records/channel.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import { PLAIN_TRAITS } from '../../src/records/recording.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'

/** A folder that is gone after the test. */
export function scratchFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'rotorfit-test-'))
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }))
  return folder
}

export const scratchFile = (): string => join(scratchFolder(), 'store.rotorfit')

/** Noon of a fixed day, a second later at every call. */
export function steppingClock(): () => number {
  let ms = Date.UTC(2026, 2, 14, 12)
  return () => {
    ms += 1000
    return ms
  }
}

export function scratchStore(
  file = scratchFile(),
  options: StoreOptions = { now: steppingClock() },
): Store {
  const store = openStore(file, options)
  onTestFinished(() => store.close())
  return store
}

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
