import { analyseRun } from '../analysis/analyse-run.ts'
import { type Quantity, UNIT_OF } from '../records/quantity.ts'
import type { TestRun } from '../records/test-run.ts'
import type { ChannelFinding } from '../signals/channel-finding.ts'
import { quietStart } from '../signals/quiet-start.ts'
import { readSignals, type ZeroOffsets } from '../signals/run-signals.ts'
import { median } from '../statistics/robust.ts'
import { combineEstimates } from '../statistics/weighted-mean.ts'

/** What the channels of a run read with nothing going on, and how that is known. */
export interface ZerosOfRun {
  readonly offsets: ZeroOffsets
  readonly from: 'zero-tests' | 'own-rest' | 'other-runs'
}

export type RunZeros = (run: TestRun) => ZerosOfRun

const QUANTITIES = ['voltage', 'current', 'speed', 'torque'] as const

/**
 * Offsets of the channels: the mean of the zero tests among the runs; where there is none, what each run reads
 * before its first drive; and where one begins driven, what the others read then.
 */
export function zeroOffsets(runs: readonly TestRun[]): RunZeros {
  const tested = offsetsOfTests(runs)
  if (Object.keys(tested).length > 0) return () => ({ offsets: tested, from: 'zero-tests' })
  const rests = new Map(
    runs.filter(({ kind }) => kind !== 'zero').map(run => [run.id, quietStart(readSignals(run))]),
  )
  const common = commonOffsets([...rests.values()].filter(rest => rest !== null))
  return run => {
    const own = rests.get(run.id) ?? null
    return own ? { offsets: own, from: 'own-rest' } : { offsets: common, from: 'other-runs' }
  }
}

function offsetsOfTests(runs: readonly TestRun[]): ZeroOffsets {
  const each = runs.flatMap(run => {
    const result = run.kind === 'zero' ? analyseRun(run) : null
    return result?.ok && result.value.kind === 'zero' && 'offsets' in result.value
      ? [result.value]
      : []
  })
  const offsets: Partial<Record<Quantity, number>> = {}
  for (const quantity of QUANTITIES) {
    const found = each.flatMap(zero => zero.values[`${quantity}Zero`] ?? [])
    if (found.length > 0) offsets[quantity] = combineEstimates(found).value
  }
  return offsets
}

/** What does not stand out in a run's rest counts as nil. */
function commonOffsets(rests: readonly ZeroOffsets[]): ZeroOffsets {
  const offsets: Partial<Record<Quantity, number>> = {}
  for (const quantity of QUANTITIES) {
    const value = rests.length > 0 ? median(rests.map(rest => rest[quantity] ?? 0)) : 0
    if (value !== 0) offsets[quantity] = value
  }
  return offsets
}

/** What is said of offsets that no zero test gave. */
export function noZeroTest({ offsets, from }: ZerosOfRun): ChannelFinding[] {
  const read = Object.entries(offsets).map(
    ([name, value]) => `${name} reads ${Number(value.toPrecision(3))} ${UNIT_OF[name as Quantity]}`,
  )
  if (read.length === 0 || from === 'zero-tests') return []
  const where =
    from === 'own-rest'
      ? `${read.join(', ')} before the first drive; this is taken off in this run`
      : `at rest ${read.join(', ')} in the other runs; this is taken off in this one, which begins driven`
  const text = `no zero test: ${where}, log a zero test`
  return [{ code: 'no-zero', text, spoils: false }]
}
