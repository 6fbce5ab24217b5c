import type { MotorFinding } from '../contract/recognise-document.ts'
import { constantOf, type FirstLook, surestTransient } from './first-look.ts'
import { cannotSay, number, seen } from './say.ts'

/** Upper ends of the classes in ohm. The classes are our own; the remarks are common practice, no source. */
const RESISTANCE_CLASSES = [
  {
    below: 0.1,
    text: 'very low: leads, contacts and bridge count as much as the winding; measure across the terminals with leads of their own',
  },
  { below: 1, text: 'low: a motor for large currents at low voltage' },
  { below: 10, text: 'middle: a usual small motor for 6 V to 48 V' },
  { below: 100, text: 'high: a small motor, or one for a high voltage' },
  {
    below: Number.POSITIVE_INFINITY,
    text: 'very high: a tiny motor, a high voltage, or a bad contact',
  },
] as const

export function resistanceFinding({ stalls, known }: FirstLook): MotorFinding {
  const { resistance } = known
  const test = 'a locked-rotor test with pulses of two sizes or more'
  if (!resistance) return cannotSay('resistanceClass', 'no locked-rotor test can be read', test)
  const { text } = RESISTANCE_CLASSES.find(({ below }) => resistance.value < below)!
  return seen(
    'resistanceClass',
    'sure',
    text,
    [number('resistance', resistance.value, 'ohm', resistance.standardUncertainty)],
    stalls.map(({ run }) => run.id),
  )
}

/**
 * Drop over both brushes by material. Carbon and graphite about 1 V a brush, metal-graphite 0.3 V a brush:
 * IEC 60034-2-1 (from memory); small motors lie below, precious metal lowest: common practice, no source.
 */
const BRUSH_KINDS = [
  {
    below: 0.2,
    text: 'precious metal, by the small drop: low currents and voltages, little noise, no sparks to spare',
  },
  { below: 0.7, text: 'metal-graphite, by the drop' },
  { below: 4, text: 'carbon or graphite, by the large drop' },
] as const

export function brushFinding({ stalls, known }: FirstLook): MotorFinding {
  const drop = known.brushDrop
  const runs = stalls.map(({ run }) => run.id)
  const test = 'a locked-rotor test over a wide range of currents, both ways'
  if (!drop) {
    const why = 'no drop beside the resistance shows in the locked-rotor tests'
    return cannotSay(
      'brushes',
      stalls.length > 0 ? why : 'no locked-rotor test can be read',
      test,
      [],
      runs,
    )
  }
  const evidence = [number('drop over both brushes', drop.value, 'V', drop.standardUncertainty)]
  const kind = BRUSH_KINDS.find(({ below }) => drop.value < below)
  if (!kind) {
    return cannotSay(
      'brushes',
      'the drop is larger than that of any pair of brushes: something is in series',
      test,
      evidence,
      runs,
    )
  }
  const border = BRUSH_KINDS.some(
    ({ below }) =>
      Math.abs(drop.value - below) < Math.max(2 * drop.standardUncertainty, 0.1 * below),
  )
  return seen(
    'brushes',
    border ? 'hint' : 'likely',
    kind.text,
    evidence,
    runs,
    'a look at the brushes',
  )
}

export function timeConstantFinding(look: FirstLook): MotorFinding {
  const { known, stalls, turning } = look
  const { resistance, inductance } = known
  const k = constantOf(look)
  const runUp = surestTransient(turning)
  const electrical = resistance && inductance ? inductance.value / resistance.value : null
  const mechanical =
    resistance && k && runUp
      ? resistance.value / (runUp.moving.transient!.gain * Math.abs(k.value))
      : null
  const evidence = [
    ...(electrical === null
      ? []
      : [
          number(
            'electrical, L/R',
            electrical,
            's',
            electrical *
              Math.hypot(
                inductance!.standardUncertainty / inductance!.value,
                resistance!.standardUncertainty / resistance!.value,
              ),
          ),
        ]),
    ...(mechanical === null
      ? []
      : [
          number(
            'mechanical, J R/k²',
            mechanical,
            's',
            mechanical *
              Math.hypot(
                Math.sqrt(runUp!.moving.transient!.covariance[0]![0]!) /
                  runUp!.moving.transient!.gain,
                resistance!.standardUncertainty / resistance!.value,
                k!.standardUncertainty / k!.value,
              ),
          ),
        ]),
  ]
  const runs = [...stalls.map(({ run }) => run.id), ...(runUp ? [runUp.run.id] : [])]
  if (evidence.length === 0) {
    return cannotSay(
      'timeConstants',
      'neither a current rise nor a run-up was sampled fast enough',
      'a locked-rotor test and a run-up at 10 000 samples a second or more',
    )
  }
  const lacking =
    electrical === null
      ? 'a locked-rotor test, sampled faster, for the electrical one'
      : mechanical === null
        ? 'a run-up with a speed channel for the mechanical one'
        : null
  return seen(
    'timeConstants',
    'sure',
    lacking ? 'one of the two' : 'electrical and mechanical',
    evidence,
    runs,
    lacking,
  )
}
