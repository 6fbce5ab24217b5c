import type { Quantity } from '../records/quantity.ts'
import type { TestRun } from '../records/test-run.ts'
import { checkChannels } from './channel-checks.ts'
import type { ChannelFinding } from './channel-finding.ts'
import { meansOverPeriods } from './period-means.ts'
import { RunMemory } from './run-memory.ts'
import { readSignals, type ZeroOffsets } from './run-signals.ts'
import { saturatedChannels } from './saturated-samples.ts'
import { hasMeans, switchedVoltage } from './switched-voltage.ts'

export interface ScreenedRun {
  /** The run with its saturated samples as gaps; means over whole PWM periods where it was read within the pulses. */
  readonly run: TestRun
  readonly findings: readonly ChannelFinding[]
  /** What makes the numbers of the run meaningless; null where nothing does. */
  readonly spoiledBy: ChannelFinding | null
}

/** A run as far as its channels can be believed. */
export function screenRun(run: TestRun, zeros: ZeroOffsets = {}): ScreenedRun {
  return SCREENED.recall(run, zeros, () => screen(run, zeros))
}

const SCREENED = new RunMemory<ScreenedRun>()

function screen(run: TestRun, zeros: ZeroOffsets): ScreenedRun {
  const signals = readSignals(run, zeros)
  const saturated = saturatedChannels(run, signals)
  const switched = switchedVoltage(signals)
  const findings = checkChannels(run, signals, saturated, switched)
  const columns: Partial<Record<Quantity, Float64Array>> = { ...run.recording.columns }
  let gapped = false
  for (const [name, { flags }] of saturated) {
    const column = columns[name]
    if (!column) continue
    columns[name] = column.map((value, i) => (flags[i] ? Number.NaN : value))
    gapped = true
  }
  const clean = gapped ? { ...run, recording: { ...run.recording, columns } } : run
  return {
    run:
      switched !== null && switched !== 'unsteady' && hasMeans(switched)
        ? meansOverPeriods(clean, switched)
        : clean,
    findings,
    spoiledBy: findings.find(({ spoils }) => spoils) ?? null,
  }
}
