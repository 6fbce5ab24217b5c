import { DRAG_TERMS } from '../analysis/friction.ts'
import { startingVoltages } from '../analysis/starting-voltage.ts'
import type { MotorFinding } from '../contract/recognise-document.ts'
import { constantOf, type FirstLook } from './first-look.ts'
import { cannotSay, notSeen, number, seen } from './say.ts'

export function polarityFinding(look: FirstLook): MotorFinding {
  const k = constantOf(look)
  const { turning } = look
  const runs = turning.map(({ run }) => run.id)
  if (!k) {
    return cannotSay(
      'polarity',
      turning.length > 0 ? 'no run tells volts from speed' : 'no test has a speed channel',
      'a free run at a small voltage, watching which way the shaft turns',
    )
  }
  const evidence = [number('back-EMF constant', k.value, 'V s/rad', k.standardUncertainty)]
  const agree = k.value > 0
  const reversed = turning.some(({ moving }) => moving.reversed)
  const text = agree
    ? 'positive voltage turns the shaft the way the speed channel counts as positive'
    : 'positive voltage turns the shaft against the way the speed channel counts: swap the terminals or turn the channel round (--invert speed)'
  return seen(
    'polarity',
    reversed ? 'hint' : 'sure',
    reversed
      ? `${text}; but the current slows the shaft: its channel is the wrong way round`
      : text,
    evidence,
    runs,
  )
}

export function startingFinding({ sampled }: FirstLook): MotorFinding {
  const found = sampled.flatMap(signals =>
    signals.run.kind === 'locked-rotor'
      ? []
      : startingVoltages(signals).map(each => ({ ...each, run: signals.run.id })),
  )
  const test = 'raise the voltage from standstill in small steps until the shaft turns, both ways'
  if (found.length === 0) {
    return cannotSay(
      'startingVoltage',
      'no test raises the voltage in steps from standstill until the shaft turns',
      test,
    )
  }
  const ways = new Set(found.map(({ direction }) => direction))
  return seen(
    'startingVoltage',
    'sure',
    'between the last step at which the shaft stood and the first at which it turned; it depends on where the rotor stood',
    found.map(({ direction, volt, standardUncertainty }) =>
      number(direction > 0 ? 'forward' : 'backward', volt, 'V', standardUncertainty),
    ),
    [...new Set(found.map(({ run }) => run))],
    ways.size < 2 ? 'the same the other way round' : null,
  )
}

/** Friction is called the same both ways below this share. */
const SAME_FRICTION = 0.05

export function directionFinding({ turning }: FirstLook): MotorFinding {
  const test = 'a free run at the same voltages both ways'
  for (const { run, moving } of turning) {
    const { drag } = moving
    if (!drag?.terms.includes('coulomb')) continue
    const dry = DRAG_TERMS.indexOf('coulomb')
    const at = drag.terms.includes('offset') ? DRAG_TERMS.indexOf('offset') : -1
    const speeds = moving.levels.map(({ speed }) => speed?.value ?? 0)
    if (!(Math.min(...speeds) < 0 && Math.max(...speeds) > 0)) continue
    const coulomb = drag.coefficients[dry]!
    const offset = at < 0 ? 0 : drag.coefficients[at]!
    const sigma = Math.sqrt(at < 0 ? drag.covariance[dry]![dry]! : drag.covariance[at]![at]!)
    const share = offset / coulomb
    const evidence = [
      number('mean drag current', coulomb, 'A', Math.sqrt(drag.covariance[dry]![dry]!)),
      number('half of the difference between the directions', offset, 'A', at < 0 ? null : sigma),
    ]
    return Math.abs(share) > SAME_FRICTION && Math.abs(offset) > 3 * sigma
      ? seen(
          'frictionByDirection',
          'likely',
          `${(100 * Math.abs(share)).toFixed(0)} % more friction ${offset > 0 ? 'forward' : 'backward'} than in the mean: brushes set askew, or a gearbox`,
          evidence,
          [run.id],
        )
      : notSeen(
          'frictionByDirection',
          'likely',
          `friction is alike both ways, within ${Math.max(1, Math.ceil(100 * Math.abs(share)))} %`,
          evidence,
          [run.id],
        )
  }
  return cannotSay('frictionByDirection', 'no test turns the shaft steadily both ways', test)
}
