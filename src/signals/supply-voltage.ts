import { firstAtOrAfter } from '../base/first-at-or-after.ts'
import type { ChannelFinding } from './channel-finding.ts'
import type { RunSignals } from './run-signals.ts'
import { plainMean } from './steady-levels.ts'

/** Set voltages that differ by this are different ones; what was read beside them differs by less than … */
const SET_APART = 0.2
/** … this share, where it is the supply's. */
const READ_ALIKE = 0.05
/** Readings after an edge that still belong to the step before. */
const SETTLING = 3
const FEWEST = 8

/**
 * A voltage that stays while the bridge is told to apply others is the supply's, read before the bridge: no
 * resistance and no constant follow from it.
 */
export function supplyVoltage({ run, timeSec, count }: RunSignals): ChannelFinding[] {
  // As it was read: a zero test with the supply on takes all of it off.
  const { voltage } = run.recording.columns
  if (!timeSec || !voltage) return []
  const { edges } = run.recording
  const levels = edges.flatMap(({ timeSec: sec, state, setVolt }, e) => {
    if (state !== 'drive' || !setVolt) return []
    const start = firstAtOrAfter(timeSec, sec) + SETTLING
    const next = edges[e + 1]
    const end = next ? firstAtOrAfter(timeSec, next.timeSec) : count
    const read = Math.abs(plainMean(voltage, start, end))
    if (end - start < FEWEST || Number.isNaN(read)) return []
    return [{ set: Math.abs(setVolt), read }]
  })
  if (levels.length === 0) return []
  const range = (values: readonly number[]) => [Math.min(...values), Math.max(...values)] as const
  const [leastSet, mostSet] = range(levels.map(({ set }) => set))
  const [leastRead, mostRead] = range(levels.map(({ read }) => read))
  const isSteered = leastSet < (1 - SET_APART) * mostSet
  // A supply at the limit of its current reads less than it was set to.
  const isAlike = leastRead > (1 - READ_ALIKE) * Math.max(mostRead, mostSet)
  if (!isSteered || !isAlike) return []
  const volt = (value: number) => `${Number(value.toPrecision(3))} V`
  return [
    {
      code: 'supply-voltage',
      text: `the voltage stays at ${volt(mostRead)} while the bridge was told to apply ${volt(leastSet)} to ${volt(mostSet)}: it looks like the supply's; measure across the motor`,
      spoils: true,
    },
  ]
}
