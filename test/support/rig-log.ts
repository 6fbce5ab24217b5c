import type { LineError } from '../../src/protocol/line-fault.ts'
import type { RigMessage } from '../../src/protocol/rig-message.ts'
import { RigReader } from '../../src/protocol/rig-reader.ts'
import type { SampleBatch, SampleLayout } from '../../src/protocol/sample-lines.ts'

export interface KeptBatch {
  readonly sequence: number
  readonly timeUs: number
  readonly count: number
  readonly counts: number[]
}

/** A reader that keeps everything it is given, for tests to look at. */
export interface RigLog {
  readonly reader: RigReader
  readonly messages: RigMessage[]
  readonly samples: KeptBatch[]
  readonly uploads: KeptBatch[]
  readonly faults: LineError[]
  /** Messages and batches of samples in the order in which they came. */
  readonly trail: (RigMessage | KeptBatch)[]
}

export function rigLog(layout: SampleLayout | null): RigLog {
  const messages: RigMessage[] = []
  const samples: KeptBatch[] = []
  const uploads: KeptBatch[] = []
  const faults: LineError[] = []
  const trail: (RigMessage | KeptBatch)[] = []
  const reader = new RigReader({
    samples: batch => {
      samples.push(keep(batch))
      trail.push(samples.at(-1)!)
    },
    upload: batch => uploads.push(keep(batch)),
    message: message => {
      messages.push(message)
      trail.push(message)
    },
    fault: error => faults.push(error),
  })
  reader.setLayout(layout, layout)
  return { reader, messages, samples, uploads, faults, trail }
}

function keep(batch: SampleBatch): KeptBatch {
  const { sequence, timeUs, count, channels, counts } = batch
  return { sequence, timeUs, count, counts: [...counts.subarray(0, count * channels)] }
}
