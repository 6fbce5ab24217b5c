import { onTestFinished } from 'vitest'
import type { LinkOpener } from '../../server/link/link.ts'
import type { RigWorkerData } from '../../server/rig-host/practice-rig-worker.ts'
import { type PracticeRig, startPracticeRig } from '../../server/rig-host/start-practice-rig.ts'
import type { BenchSession } from '../../server/session/bench-session.ts'
import { connectBench } from '../../server/session/connect.ts'
import type { LiveEvent } from '../../src/contract/live.ts'
import { type MemoryRecorder, memoryRecorder } from './plans.ts'
import { practiceMotor } from './practice.ts'

export async function startRig(changes: Partial<RigWorkerData> = {}): Promise<PracticeRig> {
  const rig = await startPracticeRig({
    via: 'pseudo-terminal',
    motor: practiceMotor('dormouse-12'),
    seed: 1,
    linkPath: null,
    ...changes,
  })
  onTestFinished(() => rig.close())
  return rig
}

export interface SessionAtWork {
  readonly session: BenchSession
  readonly recorder: MemoryRecorder
  readonly events: LiveEvent[]
}

export async function connectTo(open: LinkOpener): Promise<SessionAtWork> {
  const recorder = memoryRecorder()
  const events: LiveEvent[] = []
  const session = await connectBench({
    open,
    recorder: recorder.begin,
    onEvent: event => events.push(event),
  })
  onTestFinished(() => session.close())
  return { session, recorder, events }
}
