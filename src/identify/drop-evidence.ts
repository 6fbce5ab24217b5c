import { PHASE, type PreparedRun } from '../motor/prepared-run.ts'
import type { ParameterName } from '../records/parameter.ts'
import type { SystematicPart } from './type-b.ts'

/** What the runs can say of the brush drop beside the other parameters. */
export interface DropEvidence {
  readonly told: boolean
  /** The one voltage under which the shaft turned. */
  readonly volt: number
}

/** Voltages closer together than this share of the higher are one. */
const ONE_VOLTAGE = 0.2
/** Fewest steps, and share of a run's, that make a level. */
const FEWEST_STEPS = 3
const FEWEST_SHARE = 0.01
/** Of the fastest speed, the largest current: below it a shaft counts as at rest, a winding as without current. */
const SOME = 0.1

/**
 * Under one voltage V the equations hold for any drop, with R, L, k, J and the friction all in proportion to
 * V − V_b: only a second voltage, a held rotor, open terminals or a brake while the shaft turns tell them apart.
 * What little the transitions and the noise say beside that is not to be trusted.
 */
export function dropEvidence(
  runs: readonly PreparedRun[],
  fixed: Readonly<Partial<Record<ParameterName, number>>>,
): DropEvidence {
  const held = runs.some(run => run.shaft === 'locked' && peakOf(run.current) > 0)
  const volts = runs.flatMap(run => (run.shaft === 'locked' ? [] : turningVolts(run)))
  const volt = Math.max(0, ...volts)
  const several = volts.some(other => other < (1 - ONE_VOLTAGE) * volt)
  const anchored = SCALED.some(name => fixed[name] !== undefined)
  return { told: held || several || anchored || volt === 0, volt }
}

/** Lowest and highest voltage under which a run turns, nil where it does so braked or with open terminals. */
function turningVolts(run: PreparedRun): number[] {
  const fastest = peakOf(run.speed)
  const driven: number[] = []
  let without = 0
  for (let k = 0; k < run.stepCount; k++) {
    if (!(Math.abs(run.speed[k]!) > SOME * fastest) || !Number.isFinite(run.voltage[k]!)) continue
    const phase = run.phase[k]!
    if (phase === PHASE.driven) driven.push(Math.abs(run.voltage[k]!))
    else if (phase === PHASE.open) without++
  }
  driven.sort((a, b) => a - b)
  const enough = Math.max(FEWEST_STEPS, Math.ceil(FEWEST_SHARE * run.stepCount))
  const ends = driven.length < enough ? [] : [driven[enough - 1]!, driven[driven.length - enough]!]
  return without >= enough ? [0, ...ends] : ends
}

function peakOf(values: Float64Array): number {
  let peak = 0
  for (const value of values) if (Math.abs(value) > peak) peak = Math.abs(value)
  return peak
}

const SCALED: readonly ParameterName[] = [
  'resistance',
  'inductance',
  'backEmfConstant',
  'torqueConstant',
  'inertia',
  'coulombTorque',
  'viscousCoefficient',
  'windageCoefficient',
  'offsetTorque',
]

/** Two carbon brushes drop no more than about so much, small ones no more than a share: common practice, no source. */
const MOST_DROP = 2
const MOST_SHARE = 0.2

/** What any drop from nil to the largest usual one, taken as equally likely, does to the others. */
export function untoldDrop(
  { told, volt }: DropEvidence,
  values: Readonly<Partial<Record<ParameterName, number>>>,
): SystematicPart[] {
  if (told) return []
  const share = Math.min(MOST_DROP / volt, MOST_SHARE) / Math.sqrt(3)
  const effects = Object.fromEntries(
    SCALED.flatMap(name => {
      const value = values[name]
      return value === undefined ? [] : [[name, -share * value] as const]
    }),
  )
  return [{ source: 'brush drop, which one voltage alone does not tell', effects }]
}
