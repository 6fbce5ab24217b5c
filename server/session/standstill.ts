import { WorkFault } from '../../src/base/faults.ts'
import type { BenchSession, ChannelReading } from './bench-session.ts'

/** A rotor that coasts longer than this is not what hands should wait for. */
const LONGEST_COAST_MS = 120_000
const LOOK_SEC = 0.1
/** Readings within so many standard uncertainties of nothing count as nothing. */
const NOISE_SIGMAS = 5

/** Slower than this nobody is hurt by a bare shaft; common practice, no source. */
const STILL_RAD_PER_SEC = 1
/** Open terminals below this are dead; far below what is safe to touch. */
const DEAD_VOLT = 1

/**
 * Resolves when the shaft stands still and the terminals are dead, as far as the rig's sensors tell: the
 * moment at which hands may come near. Rejects with a `WorkFault` where that does not come about.
 */
export async function waitUntilStill(session: BenchSession, now: () => number): Promise<void> {
  const rateHz = Math.max(
    ...session.rig.ratesHz.filter(rate => rate <= 2000),
    session.rig.ratesHz[0] ?? 0,
  )
  const untilMs = now() + LONGEST_COAST_MS
  let before: readonly ChannelReading[] = []
  let alive = ''
  while (now() < untilMs) {
    const readings = await session.measure(LOOK_SEC, rateHz)
    alive = whatIsAlive(session, readings, before)
    if (alive === '') return
    before = readings
  }
  throw new WorkFault(
    `${alive} after ${LONGEST_COAST_MS / 1000} s with the bridge off; find out why before coming near`,
  )
}

/** What still moves or carries voltage, in words; empty where nothing does. */
function whatIsAlive(
  session: BenchSession,
  readings: readonly ChannelReading[],
  before: readonly ChannelReading[],
): string {
  const words = readings.flatMap(reading => {
    const scale = session.rig.channels.find(channel => channel.name === reading.channel)?.scale ?? 0
    const noise =
      (NOISE_SIGMAS * Math.abs(scale) * reading.standardDeviationCounts) /
      Math.sqrt(reading.samples)
    switch (reading.quantity) {
      case 'speed':
        return Math.abs(reading.meanSi) > STILL_RAD_PER_SEC + noise ? ['the shaft turns'] : []
      case 'position': {
        const last = before.find(each => each.channel === reading.channel)
        const moved = last ? Math.abs(reading.meanSi - last.meanSi) : Number.POSITIVE_INFINITY
        return moved > STILL_RAD_PER_SEC * LOOK_SEC + noise ? ['the shaft turns'] : []
      }
      case 'voltage':
        return Math.abs(reading.meanSi) > DEAD_VOLT + noise ? ['the terminals are live'] : []
      default:
        return []
    }
  })
  return [...new Set(words)].join(' and ')
}
