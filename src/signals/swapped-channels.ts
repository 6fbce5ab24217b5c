import type { TestRun } from '../records/test-run.ts'
import { median } from '../statistics/robust.ts'
import type { ChannelFinding } from './channel-finding.ts'
import { voltageJumps } from './jumps.ts'
import type { RunSignals, Signal } from './run-signals.ts'

/**
 * A winding's current cannot jump and its voltage does: where the "current" is there at once after each step while
 * the "voltage" creeps after it, the two are swapped. Samples too slow to show the difference say nothing.
 */
export function swapped(run: TestRun, { current, voltage, speed }: RunSignals): ChannelFinding[] {
  if (!current || !voltage || !run.recording.timeSec) return []
  const places = voltageJumps(current.values).filter(
    // What creeps is on its way soon: a step of its own some samples later is another one.
    i =>
      rises(current, i) &&
      rises(voltage, i) &&
      shareOfStep(voltage, i, 4) > UNDER_WAY &&
      !(speed && isLimited(current, voltage, speed, i)),
  )
  if (places.length === 0) return []
  const share = (signal: Signal, later: number) =>
    median(places.map(i => shareOfStep(signal, i, later)))
  const isAtOnce = share(current, 0) > 0.9 && share(current, 0) < 1.1
  // A sample that is a mean over an edge stands half-way too, but the next one is there.
  const creeps = share(voltage, 0) < 0.7 && share(voltage, 1) < 0.9
  if (!(isAtOnce && creeps)) return []
  return [
    {
      code: 'swapped-channels',
      text: 'the current jumps where the voltage only creeps; current and voltage seem to be swapped',
      spoils: true,
    },
  ]
}

/** At least so much of a creeping step is done half-way through the samples that are looked at. */
const UNDER_WAY = 0.4

/** A current is held while it stays so near to where the step took it, share of the step. */
const HELD = 0.05
/** Share of its reach by which the speed rises to be evidence. */
const GAINED = 0.05

/**
 * A supply in current limit holds the current at once too, and its voltage follows the speed up. Of swapped
 * channels the "voltage" is the current: it falls while the shaft gains speed.
 */
function isLimited({ values: amp }: Signal, { values: volt }: Signal, speed: Signal, i: number) {
  const from = i + 8
  const sense = Math.sign(amp[from]!)
  let to = from
  while (to + 1 < amp.length && Math.abs(amp[to + 1]! / amp[from]! - 1) < HELD) to++
  const gained = speed.values[to]! - speed.values[from]!
  return sense * gained > GAINED * speed.reach && sense * (volt[to]! - volt[from]!) > 0
}

/** Share of its reach by which a channel rises for the step to be evidence. */
const STEP = 0.1

/** A bridge that opens takes the current down within one sample too: only rises of both are evidence. */
function rises({ values, reach, noise }: Signal, i: number): boolean {
  if (i <= 2 || i + 8 >= values.length) return false
  const rise = Math.abs(values[i + 8]!) - Math.abs(values[i - 3]!)
  return rise > Math.max(8 * noise, STEP * reach)
}

/** How much of a step is done by its first sample, or `later` than that, against where it stands in the end. */
function shareOfStep({ values }: Signal, i: number, later: number): number {
  const before = values[i - 3]!
  return Math.abs((values[i + later]! - before) / (values[i + 8]! - before || 1))
}
