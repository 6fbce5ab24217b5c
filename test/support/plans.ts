import type { RunRequest } from '../../server/session/bench-session.ts'
import type { BeginRun, RunFacts, RunLog, SampleChunk } from '../../server/session/run-log.ts'
import type { LinkCounters } from '../../src/contract/live.ts'
import type { DriveStep, TestPlan } from '../../src/procedure/test-plan.ts'
import type { BridgeEdge } from '../../src/records/recording.ts'
import type { TestKind } from '../../src/records/test-kind.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'

/**
 * For tests in which host and rig live in real time on this computer: where other programs keep all
 * of its cores busy a trial measures the scheduler instead, and is tried again.
 */
export const IN_REAL_TIME = { retry: 3 } as const

/** What a run wrote down, kept in memory. */
export interface KeptRun extends RunLog {
  readonly facts: RunFacts
  readonly chunks: SampleChunk[]
  readonly edges: BridgeEdge[]
  readonly notes: { timeSec: number | null; code: string; text: string }[]
  readonly rejects: { raw: string; reason: string }[]
  readonly losses: { samples: number; where: string }[]
  finished: { ending: string; text: string; counters: LinkCounters } | null
}

export interface MemoryRecorder {
  readonly begin: BeginRun
  readonly runs: KeptRun[]
}

export function memoryRecorder(): MemoryRecorder {
  const runs: KeptRun[] = []
  return {
    runs,
    begin: async facts => {
      const run: KeptRun = {
        runId: runs.length + 1,
        health: { state: 'keeping-up', text: '' },
        facts,
        chunks: [],
        edges: [],
        notes: [],
        rejects: [],
        losses: [],
        finished: null,
        samples: chunk => run.chunks.push({ ...chunk, counts: chunk.counts.slice() }),
        edge: edge => run.edges.push(edge),
        note: (timeSec, code, text) => run.notes.push({ timeSec, code, text }),
        rejected: (raw, reason) => run.rejects.push({ raw, reason }),
        lost: (samples, where) => run.losses.push({ samples, where }),
        finish: async (ending, text, counters) => {
          run.finished = { ending, text, counters }
        },
      }
      runs.push(run)
      return run
    },
  }
}

/** One channel of a run as counts, by sequence from the first sample; NaN where samples are missing. */
export function columnOf(run: KeptRun, quantity: string): Float64Array {
  const { channels } = run.facts.rig
  const c = channels.findIndex(channel => channel.quantity === quantity)
  const first = run.chunks[0]!.firstSequence
  const last = run.chunks.at(-1)!
  const column = new Float64Array(last.firstSequence + last.sampleCount - first).fill(Number.NaN)
  for (const { firstSequence, sampleCount, counts } of run.chunks) {
    for (let i = 0; i < sampleCount; i++) {
      const { scale, offset } = channels[c]!
      column[firstSequence - first + i] = scale * counts[i * channels.length + c]! + offset
    }
  }
  return column
}

export const drive = (setVolt: number, durationSec: number, currentLimitAmp = 1.5): DriveStep => ({
  bridge: 'drive',
  setVolt,
  durationSec,
  currentLimitAmp,
  purpose: `${setVolt} V`,
})

export const coast = (durationSec: number): DriveStep => ({
  bridge: 'coast',
  setVolt: 0,
  durationSec,
  currentLimitAmp: 1.5,
  purpose: 'coast',
})

export function planOf(
  steps: readonly DriveStep[],
  changes: Partial<TestPlan> & { kind?: TestKind } = {},
): TestPlan {
  return {
    kind: 'free-run',
    rateHz: 10_000,
    steps,
    shaft: 'any',
    conditions: UNKNOWN_CONDITIONS,
    expectedPeakAmp: null,
    expectedRiseKelvin: null,
    ...changes,
  }
}

export const requestOf = (plan: TestPlan): RunRequest => ({
  plan,
  motor: { id: 1, name: 'Dormouse 12' },
  acknowledged: null,
})
