import { BRIDGE } from '../records/recording.ts'
import { correlatedMean } from '../statistics/autocorrelation-time.ts'
import { voltageJumps } from './jumps.ts'
import type { RunSignals, Signal, ZeroOffsets } from './run-signals.ts'

/** Fewer samples than this show no mean. */
const FEWEST_SAMPLES = 20
/** A mean counts from so many standard uncertainties … */
const CERTAIN = 6
/** … from such a share of the channel's reach … */
const WORTH = 1e-4
/** … and as long as it is no more than this share of the channel's reach: else something was going on. */
const NOTHING = 0.03
/** Samples left out before the first edge, which may have caught a part of it. */
const MARGIN = 3

/**
 * What the channels read before the first drive, with no current and a still shaft: their offsets where no zero
 * test gave any. Only what stands out of its uncertainty is named. Null where a run does not begin with a rest.
 */
export function quietStart(signals: RunSignals): ZeroOffsets | null {
  const { run, timeSec, voltage, current, speed } = signals
  if (!timeSec || !current) return null
  const end = startOfDrive(signals) - MARGIN
  if (end < FEWEST_SAMPLES) return null
  const meanOf = (signal: Signal | null) => {
    const values = signal?.values.subarray(0, end).filter(value => !Number.isNaN(value))
    return signal && values && values.length >= FEWEST_SAMPLES
      ? { ...correlatedMean(values), reach: signal.reach }
      : null
  }
  const turns = meanOf(speed)
  const amp = meanOf(current)
  const volt = meanOf(voltage)
  const isNothing = (found: typeof amp) => !found || Math.abs(found.mean) <= NOTHING * found.reach
  const standsOut = (found: typeof amp) =>
    found !== null && Math.abs(found.mean) > CERTAIN * found.standardUncertainty
  // All that the speed of a held shaft reaches is its noise and its offset.
  const isStill = run.kind === 'locked-rotor' || !standsOut(turns) || isNothing(turns)
  if (!isStill || !isNothing(amp) || !isNothing(volt)) return null
  const counts = (found: typeof amp) =>
    standsOut(found) && Math.abs(found!.mean) > WORTH * found!.reach
  return {
    ...(counts(amp) ? { current: amp!.mean } : {}),
    ...(counts(volt) ? { voltage: volt!.mean } : {}),
    ...(counts(turns) ? { speed: turns!.mean } : {}),
  }
}

/** First sample of the first drive: logged, else where voltage or current first jumps. */
function startOfDrive({ run, voltage, current, count }: RunSignals): number {
  const { bridge } = run.recording
  if (bridge && !bridge.includes(BRIDGE.unknown)) {
    const driven = bridge.indexOf(BRIDGE.drive)
    const open = driven < 0 ? count : driven
    return bridge.subarray(0, open).every(code => code === BRIDGE.coast) ? open : 0
  }
  const jumps = [voltage, current].flatMap(signal => (signal ? voltageJumps(signal.values) : []))
  return jumps.length > 0 ? Math.min(...jumps) : 0
}
