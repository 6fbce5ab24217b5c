import type { RunRequest } from './bench-session.ts'
import { BurstCapture } from './burst-capture.ts'
import type { Connection } from './connection.ts'
import { obey } from './hello.ts'
import { channelOf, type RigFacts } from './rig-facts.ts'
import type { BeginRun, RunLog } from './run-log.ts'
import { planDrives } from './run-request.ts'
import { type AgreedSampling, agreeSampling } from './sample-stream.ts'

export interface PreparedRun {
  readonly sampling: AgreedSampling
  readonly burst: BurstCapture | null
  /** With the channels as they measure at the run's rate. */
  readonly rig: RigFacts
  readonly log: RunLog
}

/** Everything up to the first sample: rate and channels agreed, armed where the plan drives, begun in the store. */
export async function prepareRun(
  connection: Connection,
  request: RunRequest,
  facts: RigFacts,
  recorder: BeginRun,
): Promise<PreparedRun> {
  const { plan, motor } = request
  const sampling = await agreeSampling(connection, plan.rateHz)
  const burst = request.burst ? await BurstCapture.prepare(connection, request.burst) : null
  connection.talk.setLayout(sampling.channels, burst?.layout ?? null)
  if (planDrives(plan)) await obey(connection.talk, { verb: 'arm' })
  const rig = { ...facts, channels: sampling.channels.map(channelOf) }
  const log = await recorder({ motorId: motor.id, plan, rig })
  return { sampling, burst, rig, log }
}
