import type { FitWarning } from '../contract/fit-document.ts'
import { lowest, type Tried } from '../numerics/parabola.ts'
import type { TestRun } from '../records/test-run.ts'
import { readingsApart } from '../signals/held-readings.ts'
import { usualPeriodSec } from '../signals/usual-period.ts'
import type { FittedTerms } from './fit-members.ts'
import { movedNames, valuesOf } from './joint-outcomes.ts'
import type { SystematicPart } from './type-b.ts'

/** No filter or counter of a bench is later than that. */
const LONGEST_SEC = 0.02
const MOST_SAMPLES = 64
/** The likelihood has to gain this share of itself and more than chance would give. */
const WORTH_SHARE = 0.02
const WORTH = 20
/** A filter is no pure delay: this share of what the delay does stays open. */
const NO_PURE_DELAY = 0.25

/**
 * Whether a run's speed may lag without a word: nothing is declared of how it is read, and it does not stand
 * between readings, which are put where they belong already.
 */
function mayLag({ recording }: TestRun): boolean {
  const { speed } = recording.columns
  const traits = recording.traits.speed
  if (recording.timeSec === null || speed === undefined) return false
  return !(traits && (traits.delaySec > 0 || traits.apertureSec > 0)) && !readingsApart(speed)
}

/**
 * By how much the speed is read later than voltage and current (negative: earlier), found from all runs at once:
 * a tacho behind a filter, a counter's gate. In whole samples, growing while the likelihood does, then the top of
 * the parabola through the last three. 0 where it makes no difference.
 * @param costNow how much more the residuals are than noise, the speeds as they came
 * @param costAt the same with the speeds so much earlier
 */
export function speedLagSec(
  runs: readonly TestRun[],
  costNow: number,
  costAt: (lagSec: number) => number,
): number {
  const lagging = runs.filter(mayLag)
  if (lagging.length === 0) return 0
  const periodSec = Math.max(...lagging.map(({ recording }) => usualPeriodSec(recording.timeSec!)))
  const most = Math.min(MOST_SAMPLES, Math.floor(LONGEST_SEC / periodSec))
  const tried = (samples: number): Tried => ({
    shift: samples * periodSec,
    cost: costAt(samples * periodSec),
  })
  let middle: Tried = { shift: 0, cost: costNow }
  const [later, earlier] = [tried(1), tried(-1)]
  const sign = later.cost <= earlier.cost ? 1 : -1
  let [right, left] = sign > 0 ? [later, earlier] : [earlier, later]
  for (let samples = 2; right.cost < middle.cost && samples <= most; samples *= 2) {
    left = middle
    middle = right
    right = tried(sign * samples)
  }
  const [low, high] = left.shift < right.shift ? [left, right] : [right, left]
  // What lies between two samples is not tried: readings between readings are smoother than readings.
  const best = lowest(low, middle, high)
  return costNow - best.cost > Math.max(WORTH, WORTH_SHARE * Math.abs(costNow)) ? best.shift : 0
}

/** The runs with their speeds read so much earlier, where nothing is declared of how they are read. */
export function withoutLag(runs: readonly TestRun[], lagSec: number): TestRun[] {
  return runs.map(run => {
    if (lagSec === 0 || !mayLag(run)) return run
    const { recording } = run
    const speed = shifted(recording.columns.speed!, lagSec / usualPeriodSec(recording.timeSec!))
    return { ...run, recording: { ...recording, columns: { ...recording.columns, speed } } }
  })
}

/** What stood so many samples later, straight between two; the ends go on. */
function shifted(values: Float64Array, samples: number): Float64Array {
  const last = values.length - 1
  const whole = Math.floor(samples)
  const share = samples - whole
  const at = (i: number) => values[Math.min(last, Math.max(0, i))]!
  return values.map((_, i) =>
    share === 0 ? at(i + whole) : (1 - share) * at(i + whole) + share * at(i + whole + 1),
  )
}

/** What a lag that was allowed for leaves open. */
export function lagParts(before: FittedTerms, after: FittedTerms): SystematicPart[] {
  const [was, is] = [valuesOf(before), valuesOf(after)]
  const effects = movedNames(after).flatMap(name => {
    const [a, b] = [was[name], is[name]]
    return a === undefined || b === undefined ? [] : [[name, NO_PURE_DELAY * (b - a)] as const]
  })
  return [
    {
      source: 'lag between speed and the other channels, taken as a pure delay',
      effects: Object.fromEntries(effects),
    },
  ]
}

export function lagWarning(lagSec: number): FitWarning {
  const late = `${Number(Math.abs(1e3 * lagSec).toPrecision(2))} ms`
  const text =
    lagSec > 0
      ? `the speed is read ${late} later than voltage and current, as behind a filter or in a counter's gate; this is allowed for`
      : `voltage and current are read ${late} later than the speed, as behind filters; this is allowed for`
  return { code: 'speed-lag', text }
}
