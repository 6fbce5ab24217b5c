import { ModuloUnwrapper } from '../../src/protocol/counts.ts'
import type { RunRequest } from './bench-session.ts'
import type { BurstCapture, CapturedBurst } from './burst-capture.ts'
import { channelOf, type RigFacts } from './rig-facts.ts'
import type { BeginRun, RunLog } from './run-log.ts'

const PIECE_SAMPLES = 4096

/**
 * Fetches a capture from the rig's memory and stores it. The motor is at rest by now. Resolves to the
 * run's number; null where nothing triggered the capture or the line gave nothing of it.
 */
export async function keepBurst(
  burst: BurstCapture,
  { plan, motor }: RunRequest,
  facts: RigFacts,
  recorder: BeginRun,
): Promise<number | null> {
  const captured = await burst.fetch().catch(() => null)
  if (captured === null) return null
  const rig = { ...facts, channels: captured.channels.map(channelOf) }
  const rateHz = 1e9 / captured.periodNs
  const log = await recorder({ motorId: motor.id, plan: { ...plan, rateHz }, rig })
  await logBurst(log, captured)
  return log.runId
}

/** Writes a capture down as a run of its own: what came of it in pieces, what did not as losses. */
async function logBurst(log: RunLog, burst: CapturedBurst): Promise<void> {
  const { samples, before, have, zeroUs, periodNs } = burst
  const counts = continuous(burst)
  const channels = burst.channels.length
  let lost = 0
  for (let from = 0; from < samples; ) {
    const isThere = have[from] === 1
    let to = from
    while (to < samples && (have[to] === 1) === isThere && to - from < PIECE_SAMPLES) to++
    if (isThere) {
      log.samples({
        firstSequence: from,
        startSec: (from * periodNs) / 1e9,
        intervalSec: periodNs / 1e9,
        sampleCount: to - from,
        counts: counts.slice(from * channels, to * channels),
      })
    } else {
      lost += to - from
      log.lost(to - from, 'link')
    }
    from = to
  }
  for (const { timeUs, mode, setVolt } of burst.edges) {
    const timeSec = (timeUs - zeroUs) / 1e6
    if (timeSec < 0 || timeSec > (samples * periodNs) / 1e9) continue
    log.edge({ timeSec, state: mode, setVolt: mode === 'drive' ? setVolt : null })
  }
  const text = `burst of ${samples} samples, ${before} of them before the bridge changed`
  log.note(null, 'burst', text)
  const counters = { samples: samples - lost, samplesLost: lost, linesRejected: 0, bytes: 0 }
  await log.finish('complete', text, counters)
}

/** Counts that run round made continuous; 16 bits where 16 bits are enough. */
function continuous({ channels, counts, have }: CapturedBurst): Int16Array | Int32Array {
  const isWide = channels.some(({ kind, highCount }) => kind === 'modulo' || highCount > 32_767)
  if (!isWide) return Int16Array.from(counts)
  const wide = counts.slice()
  channels.forEach(({ kind, bits }, c) => {
    if (kind !== 'modulo') return
    const unwrapper = new ModuloUnwrapper(bits)
    for (let k = 0; k < have.length; k++) {
      const at = k * channels.length + c
      if (have[k] === 1) wide[at] = unwrapper.next(counts[at]!)
    }
  })
  return wide
}
