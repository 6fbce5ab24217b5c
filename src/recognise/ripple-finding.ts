import type { MotorFinding } from '../contract/recognise-document.ts'
import { commutatorsWith } from './commutators-with.ts'
import { type RippleSettings, UNKNOWN_MOTOR } from '../ripple/ripple-settings.ts'
import { type RippleTrack, trackRipple } from '../ripple/track-ripple.ts'
import { turnCandidates, WHAT_DECIDES } from '../ripple/turn-candidates.ts'
import { countRipples } from '../ripple/turn-reference.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import { steadyLevels } from '../signals/steady-levels.ts'
import { median } from '../statistics/robust.ts'
import { turnOrders } from './angle-course.ts'
import { constantOf, type FirstLook } from './first-look.ts'
import { cannotSay, number, seen } from './say.ts'

const TURNING_KINDS = ['free-run', 'run-up', 'coast-down', 'load', 'mixed'] as const
/** Ripple takes time to follow: the fastest sampled runs, and no more of them. */
const MOST_TRIES = 3
/** A level shorter than this is no reading of the speed. */
const LEAST_LEVEL_SEC = 0.05
/** k changes by about this with the temperature of the magnets between tests. */
const CONSTANT_SHARE = 0.01
const READING_SHARE = 1e-3
const SHOWN = 4

/** Ripples a turn: commutation followed in the current over the rate of turning that the speed channel shows. */
export function rippleFinding(look: FirstLook): MotorFinding {
  const settings = settingsOf(look)
  const turning = look.sampled
    .filter(({ run }) => (TURNING_KINDS as readonly string[]).includes(run.kind))
    .toSorted((a, b) => rateOf(b) - rateOf(a))
    .slice(0, MOST_TRIES)
  const counts: {
    readonly run: number
    readonly count: number
    readonly ratio: number
    readonly sigma: number
  }[] = []
  let why: string | null = null
  let unread: { readonly run: number; readonly track: RippleTrack } | null = null
  for (const signals of turning) {
    const run = signals.run.id
    const tracked = trackRipple(signals, settings)
    if (!tracked.ok) {
      why ??= `run ${run}: ${tracked.error.text}`
      continue
    }
    const counted = countIn(signals, tracked.value)
    if (counted === null) unread ??= { run, track: tracked.value }
    else if (counted.ok) {
      const { ripplesPerTurn: count, ratio, standardUncertainty: sigma } = counted.value
      counts.push({ run, count, ratio, sigma })
    } else why ??= `run ${run}: ${counted.error}`
  }
  const first = counts[0]
  const runs = counts.map(({ run }) => run)
  const evidence = counts.map(({ run, ratio, sigma }) =>
    number(`commutation rate over rate of turning, run ${run}`, ratio, '1', sigma),
  )
  if (!first)
    return unread
      ? withoutSpeed(unread)
      : cannotSay(
          'rippleCount',
          why ?? 'no test with a turning shaft was sampled over time',
          WHAT_DECIDES[2],
        )
  if (counts.some(({ count }) => count !== first.count)) {
    return cannotSay(
      'rippleCount',
      'the runs disagree: the strongest line of the current is not always that of the commutation',
      WHAT_DECIDES[0],
      evidence,
      runs,
    )
  }
  const half = first.count / 2
  if (Number.isInteger(half) && turning.some(signals => hasLineAt(signals, look, half))) {
    return seen(
      'rippleCount',
      'hint',
      `${first.count} or ${half} ripples a turn: the current has lines at both, and wide brushes show two ripples for one commutation; segments: ${commutatorsWith(first.count)}, or ${commutatorsWith(half)}`,
      evidence,
      runs,
      WHAT_DECIDES[0],
    )
  }
  const segments = commutatorsWith(first.count)
  return seen(
    'rippleCount',
    counts.length > 1 ? 'likely' : 'hint',
    `${first.count} ripples a turn${segments === '' ? '' : `; segments: ${segments}`}`,
    evidence,
    runs,
    WHAT_DECIDES[0],
  )
}

/** A line that stands out of those beside it. */
const STANDS_OUT = 4
const BESIDE = 3

function hasLineAt(signals: RunSignals, look: FirstLook, order: number): boolean {
  const k = constantOf(look)
  const { resistance, inductance } = look.known
  if (!k || !resistance || signals.run.kind === 'coast-down') return false
  const motor = { ohm: resistance.value, henry: inductance?.value ?? 0, k: k.value }
  const orders = turnOrders(signals, motor, order + BESIDE)
  const line = orders.find(each => each.order === order)
  const beside = orders.filter(
    each => each.order !== order && Math.abs(each.order - order) <= BESIDE,
  )
  if (!line || beside.length < 2 * BESIDE) return false
  return line.share > STANDS_OUT * median(beside.map(({ share }) => share))
}

function settingsOf(look: FirstLook): RippleSettings {
  const { known } = look
  const k = constantOf(look)
  return {
    ...UNKNOWN_MOTOR,
    resistanceOhm: known.resistance?.value ?? null,
    inductanceHenry: known.inductance?.value ?? null,
    brushDropVolt: Math.max(0, known.brushDrop?.value ?? 0),
    backEmfConstant: k && {
      value: Math.abs(k.value),
      standardUncertainty: Math.max(k.standardUncertainty, CONSTANT_SHARE * Math.abs(k.value)),
    },
  }
}

const rateOf = ({ timeSec, count }: RunSignals): number =>
  (count - 1) / (timeSec!.at(-1)! - timeSec![0]!)

/** Null where nothing says how fast the shaft turned. */
function countIn(signals: RunSignals, track: RippleTrack) {
  const { speed, timeSec } = signals
  if (!speed) return null
  const level = steadyLevels(signals).findLast(
    each =>
      each.kind === 'drive' &&
      each.speed !== null &&
      Math.abs(each.speed.value) > 0.3 * speed.reach &&
      each.durationSec > LEAST_LEVEL_SEC,
  )
  if (!level) return null
  const radPerSec = Math.abs(level.speed!.value)
  return countRipples(track, {
    kind: 'reading',
    radPerSec,
    uncertaintyRadPerSec: Math.max(level.speed!.standardUncertainty, READING_SHARE * radPerSec),
    fromSec: timeSec![level.start]!,
    toSec: timeSec![level.end - 1]!,
  })
}

function withoutSpeed({ run, track }: { readonly run: number; readonly track: RippleTrack }) {
  const candidates = turnCandidates(track).slice(0, SHOWN)
  return cannotSay(
    'rippleCount',
    `the current ripples, but nothing says how fast the shaft turned; the likeliest counts are ${candidates.map(each => each.ripplesPerTurn).join(', ')}`,
    WHAT_DECIDES.join('; or '),
    candidates.flatMap(({ ripplesPerTurn, backEmfConstantVsPerRad: k }) =>
      k === null ? [] : [number(`k with ${ripplesPerTurn} ripples a turn`, k, 'V s/rad')],
    ),
    [run],
  )
}
