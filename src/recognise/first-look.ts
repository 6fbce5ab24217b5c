import { analyseLockedRotor, type LockedRotorAnalysis } from '../analysis/locked-rotor.ts'
import { type Moving, readMoving } from '../analysis/moving.ts'
import type { KnownParameters } from '../analysis/result.ts'
import { analyseZero } from '../analysis/zero.ts'
import type { TestRun } from '../records/test-run.ts'
import { readSignals, type RunSignals, type ZeroOffsets } from '../signals/run-signals.ts'
import { combineEstimates, type Estimate } from '../statistics/weighted-mean.ts'

/** The tests of one motor, each read once. */
export interface FirstLook {
  readonly zeros: ZeroOffsets
  readonly stalls: readonly Stalled[]
  /** Runs in which the shaft turns and something measured that. */
  readonly turning: readonly Turned[]
  /** Every run with voltage and current over time. */
  readonly sampled: readonly RunSignals[]
  readonly known: KnownParameters
}

export interface Stalled {
  readonly run: TestRun
  readonly signals: RunSignals
  readonly analysis: LockedRotorAnalysis
}

export interface Turned {
  readonly run: TestRun
  readonly signals: RunSignals
  readonly moving: Moving
}

const TURNING_KINDS = ['free-run', 'run-up', 'coast-down', 'mixed', 'load'] as const

export function lookAt(runs: readonly TestRun[]): FirstLook {
  const zero = runs.findLast(run => run.kind === 'zero')
  const zeroed = zero && analyseZero(zero)
  const zeros = zeroed?.ok ? zeroed.value.offsets : {}
  const read = (run: TestRun) => readSignals(run, zeros)
  const stalls = runs.flatMap((run): Stalled[] => {
    if (run.kind !== 'locked-rotor') return []
    const analysis = analyseLockedRotor(run, {}, zeros)
    return analysis.ok ? [{ run, signals: read(run), analysis: analysis.value }] : []
  })
  const known = knownFrom(stalls)
  return {
    zeros,
    stalls,
    known,
    turning: runs.flatMap((run): Turned[] => {
      const signals = read(run)
      if (!(TURNING_KINDS as readonly string[]).includes(run.kind) || !signals.speed) return []
      return [{ run, signals, moving: readMoving(signals, known) }]
    }),
    sampled: runs
      .filter(run => run.kind !== 'zero')
      .map(read)
      .filter(signals => signals.timeSec && signals.voltage && signals.current),
  }
}

function knownFrom(stalls: readonly Stalled[]): KnownParameters {
  const combined = (name: 'resistance' | 'brushDrop' | 'inductance') => {
    const found = stalls.flatMap(({ analysis }): Estimate[] => {
      const value = analysis.values[name]
      return value ? [value] : []
    })
    return found.length > 0 ? combineEstimates(found) : null
  }
  const resistance = combined('resistance')
  const brushDrop = combined('brushDrop')
  const inductance = combined('inductance')
  return {
    ...(resistance && { resistance }),
    ...(brushDrop && { brushDrop }),
    ...(inductance && { inductance }),
  }
}

/** A slow shaft tells resistance, not k: its back-EMF has to be this share of the voltage. */
const LEVER = 0.3

const hasLever = ({ speed, voltage }: RunSignals, k: number): boolean =>
  Math.abs(k) * (speed?.reach ?? 0) > LEVER * (voltage?.reach ?? Number.POSITIVE_INFINITY)

/** An estimate less certain than the best by this factor adds nothing but its faults. */
const POOR = 5

/** k of all runs together: from open terminals, and driven where the back-EMF has a lever. */
export function constantOf({ turning }: FirstLook): Estimate | null {
  const open = turning.flatMap(({ moving }) => moving.openTerminals?.constant ?? [])
  const driven = turning.flatMap(({ moving, signals }) => {
    const found = moving.backEmf?.backEmfConstant
    return found && hasLever(signals, found.value) ? [found] : []
  })
  const found = [...open, ...driven]
  const best = Math.min(...found.map(each => each.standardUncertainty))
  const near = found.filter(each => each.standardUncertainty <= POOR * best)
  return near.length > 0 ? combineEstimates(near) : null
}

/** The run whose acceleration tells k_t/J best; undefined where none does. */
export function surestTransient(turning: readonly Turned[]): Turned | undefined {
  const relative = ({ moving }: Turned) =>
    moving.transient && moving.transient.gain > 0
      ? Math.sqrt(moving.transient.covariance[0]![0]!) / moving.transient.gain
      : Number.POSITIVE_INFINITY
  return turning
    .filter(each => Number.isFinite(relative(each)))
    .toSorted((a, b) => relative(a) - relative(b))[0]
}
