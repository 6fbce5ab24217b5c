import type { MotorFinding } from '../contract/recognise-document.ts'
import { median } from '../statistics/robust.ts'
import { highOf, lowOf, resistanceOverAngle, type TurnOrder, turnOrders } from './angle-course.ts'
import { constantOf, type FirstLook } from './first-look.ts'
import { cannotSay, notSeen, number, seen } from './say.ts'

/** With two brushes a broken coil leaves one of two halves: the resistance doubles but where a brush bridges it. */
const OPEN_RATIO = 1.5
const FEWEST_ANGLES = 3

export function overAngleFinding(look: FirstLook): MotorFinding {
  const { stalls, sampled, known } = look
  const drop = known.brushDrop?.value ?? 0
  const k = constantOf(look)?.value ?? 0
  const test =
    'turn the shaft slowly by hand, or at a small voltage, through a turn or more under a small current, with a speed or position channel'
  for (const signals of sampled) {
    if (signals.run.kind === 'locked-rotor' || signals.run.kind === 'heating') continue
    const course = resistanceOverAngle(signals, drop, k)
    if (!course) continue
    const [high, low, middle] = [highOf(course.ohm), lowOf(course.ohm), median(course.ohm)]
    const evidence = [
      number('lowest', low, 'ohm'),
      number('median', middle, 'ohm'),
      number('highest', high, 'ohm'),
      number('turns', course.turns, '1'),
    ]
    return high > OPEN_RATIO * low
      ? seen(
          'windingOverAngle',
          'likely',
          'the resistance jumps by half or more over the turn: an open coil, or a segment that makes no contact',
          evidence,
          [signals.run.id],
          'the same once more after a minute of running: dirt goes, a broken coil stays',
        )
      : notSeen(
          'windingOverAngle',
          'likely',
          `even over the turn, within ${(100 * (high / low - 1)).toFixed(1)} %: no open coil`,
          evidence,
          [signals.run.id],
        )
  }
  const ohms = stalls.flatMap(({ analysis }) => analysis.values.resistance?.value ?? [])
  const angles = new Set(stalls.map(({ run }) => run.conditions.shaftAngleRad))
  if (ohms.length < FEWEST_ANGLES || angles.size < FEWEST_ANGLES) {
    return cannotSay(
      'windingOverAngle',
      'the resistance was not seen over a turn, nor at three marked angles',
      test,
    )
  }
  const [low, high] = [Math.min(...ohms), Math.max(...ohms)]
  const evidence = [
    number('lowest', low, 'ohm'),
    number('highest', high, 'ohm'),
    number('angles', ohms.length, '1'),
  ]
  const runs = stalls.map(({ run }) => run.id)
  return high > OPEN_RATIO * low
    ? seen(
        'windingOverAngle',
        'hint',
        'the resistance differs by half or more between angles: an open coil, or a bad contact',
        evidence,
        runs,
        test,
      )
    : cannotSay(
        'windingOverAngle',
        `alike at ${ohms.length} angles; what lies between them was not seen`,
        test,
        evidence,
        runs,
      )
}

/** A sound winding is even to a percent; one coil of N short-circuited makes 0.67/N of unevenness. */
const DAMAGED_SHARE = 0.025
const SIGNIFICANT = 5
const LOW_ORDERS = 4

/**
 * One of N coils missing from the sum of both halves leaves −½|sin x| of its part, whose second harmonic is
 * 4/(3π) · ½ against N/π of the whole: 0.67/N (by hand, two poles, sinusoidal coils).
 */
export function turnFinding(look: FirstLook): MotorFinding {
  const { turning, known } = look
  const k = constantOf(look)
  const { resistance, inductance } = known
  const test =
    'a free run at a steady voltage with a speed channel, sampled fast against a turn, after a locked-rotor test'
  if (!k || !resistance) {
    return cannotSay(
      'turnUnevenness',
      'resistance and k are needed to read the lines of the current',
      test,
    )
  }
  const motor = { ohm: resistance.value, henry: inductance?.value ?? 0, k: k.value }
  for (const { run, signals } of turning) {
    if (run.kind !== 'free-run') continue
    const orders = turnOrders(signals, motor)
    if (orders.length < LOW_ORDERS) continue
    const largest = orders.reduce((a, b) => (b.share > a.share ? b : a))
    const low = orders.slice(0, LOW_ORDERS).reduce((a, b) => (b.share > a.share ? b : a))
    const line = (each: TurnOrder) =>
      number(`${each.order} a turn, of k`, each.share, '1', each.standardUncertainty)
    const evidence = low === largest ? [line(low)] : [line(low), line(largest)]
    return low.share > DAMAGED_SHARE && low.share > SIGNIFICANT * low.standardUncertainty
      ? seen(
          'turnUnevenness',
          'hint',
          `the current swells ${low.order} times a turn by more than a sound winding does: segments short-circuited, a coil weaker than the others, or a bent shaft`,
          evidence,
          [run.id],
          'measure between neighbouring segments, or turn it by another motor with the terminals open and look at the voltage',
        )
      : notSeen(
          'turnUnevenness',
          'likely',
          `even over the turn; the strongest line up to ${orders.length} a turn is at ${largest.order}. Cogging shows at slow speed only`,
          evidence,
          [run.id],
          'a free run at the lowest voltage at which it keeps turning, for the cogging',
        )
  }
  return cannotSay(
    'turnUnevenness',
    'no steady free run with a speed channel was sampled 20 times a turn or more',
    test,
  )
}
