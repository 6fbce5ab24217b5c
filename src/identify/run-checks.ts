import type { FitWarning } from '../contract/fit-document.ts'
import { median } from '../statistics/robust.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import type { RunReading } from './run-readings.ts'

/** A value of one run, to be compared with the same of the others. */
export interface ValueOfRun {
  readonly run: number
  readonly estimate: Estimate
  /** How much of it the resistance of the locked runs moves; 0 or absent where it does not rest on that. */
  readonly withResistance?: number
}

/** 60/2π: a speed in 1/min declared as rad/s makes k_e this much too small. */
const RPM_FACTOR = 60 / (2 * Math.PI)
/** Relative difference from the middle of all runs that a bench explains, for each kind of value. */
const ALLOWED = { backEmfConstant: 0.03, inertia: 0.1, resistance: 0.2 } as const
const SIGMAS = 5

/** What each run's own analysis and channels warn of. */
export function warningsOfRuns(readings: readonly RunReading[]): FitWarning[] {
  return readings.flatMap(({ run, analysis, fault, temperature, findings }): FitWarning[] => [
    ...(fault && !findings.some(({ spoils }) => spoils)
      ? [
          {
            code: fault.code === 'speed-polarity' ? fault.code : 'run-unusable',
            text: fault.text,
            run: run.id,
          },
        ]
      : []),
    ...(analysis?.warnings.map(({ code, text }) => ({ code, text, run: run.id })) ?? []),
    ...findings.map(({ code, text, spoils }) => ({
      code,
      text: spoils ? `${text}; the run is left out` : text,
      run: run.id,
    })),
    ...(temperature.source === 'ambient' && run.kind === 'locked-rotor'
      ? [
          {
            code: 'ambient-temperature',
            text: `the winding is taken to have been as warm as the air, ${temperature.celsius} °C`,
            run: run.id,
          },
        ]
      : []),
  ])
}

const UNITS = { backEmfConstant: 'V s/rad', inertia: 'A s²/rad', resistance: 'Ω' } as const

/** Runs that say something else than the rest: another motor under the same name, or a unit that is wrong. */
export function contradictions(
  quantity: keyof typeof ALLOWED,
  label: string,
  values: readonly ValueOfRun[],
): FitWarning[] {
  if (values.length < 2) return []
  const middle = median(values.map(v => v.estimate.value))
  const odd = values.filter(({ estimate }) => {
    const distance = Math.abs(estimate.value - middle)
    return distance > ALLOWED[quantity] * Math.abs(middle) + SIGMAS * estimate.standardUncertainty
  })
  const withUnit = (value: number) => `${brief(value)} ${UNITS[quantity]}`
  if (values.length === 2 && odd.length > 0) return bothCandidates(quantity, label, values)
  const apart = odd.length === 1 && standsApart(odd[0]!, values)
  return odd.map(({ run, estimate }) => {
    if (apart) {
      return {
        code: 'contradicting-runs',
        text: `${label} ${withUnit(estimate.value)} here, from open terminals, and ${withUnit(middle)} in the runs that rest on the locked rotor's resistance: the shaft may have slipped while it was held, which makes that too large; or a channel is wrong here`,
        run,
      }
    }
    const rpm = quantity === 'backEmfConstant' && isRpmBetween(middle, estimate.value)
    return {
      code: rpm ? 'speed-unit' : 'contradicting-runs',
      text: rpm
        ? `${label} ${withUnit(estimate.value)} here and ${withUnit(middle)} elsewhere: ${RPM_TEXT}`
        : `${label} ${withUnit(estimate.value)} here and ${withUnit(middle)} in the other runs: another motor, or a channel that is wrong`,
      run,
      // Of three runs and more the middle says which is the stranger.
      ...(values.length > 2 && quantity === 'backEmfConstant' ? { outvoted: true } : {}),
    }
  })
}

/** The one odd value needs no resistance and all others do: they share what may be wrong and are no majority. */
function standsApart(odd: ValueOfRun, values: readonly ValueOfRun[]): boolean {
  const rests = (value: ValueOfRun) => (value.withResistance ?? 0) !== 0
  return !rests(odd) && values.every(value => value === odd || rests(value))
}

const RPM_TEXT = 'the factor is that of 1/min against rad/s; check the unit of the speed'

/** Two that disagree: nothing says which of them is wrong. */
function bothCandidates(
  quantity: keyof typeof ALLOWED,
  label: string,
  values: readonly ValueOfRun[],
): FitWarning[] {
  const withUnit = (value: number) => `${brief(value)} ${UNITS[quantity]}`
  const [a, b] = [values[0]!, values[1]!]
  const rpm = quantity === 'backEmfConstant' && isRpmBetween(a.estimate.value, b.estimate.value)
  // A speed in 1/min makes the constant the smaller.
  const wrong = Math.abs(a.estimate.value) < Math.abs(b.estimate.value) ? a : b
  return (rpm ? [wrong] : [a, b]).map(own => {
    const other = own === a ? b : a
    const values = `${label} ${withUnit(own.estimate.value)} here and ${withUnit(other.estimate.value)}`
    return {
      code: rpm ? 'speed-unit' : 'contradicting-runs',
      text: rpm
        ? `${values} elsewhere: ${RPM_TEXT}`
        : `${values} in the other runs (run ${other.run}): either may be wrong; another motor, or a channel${quantity === 'backEmfConstant' ? ', or a shaft that slipped while it was held, which makes the resistance too large' : ''}`,
      run: own.run,
    }
  })
}

/** k_t from torques against k_e from voltages: alike in SI, unless a unit or the magnets are at fault. */
export function compareConstants(torque: Estimate, voltage: Estimate): FitWarning[] {
  const ratio = torque.value / voltage.value
  if (isRpmFactor(ratio) || isRpmFactor(1 / ratio)) {
    return [
      {
        code: 'speed-unit',
        text: `k_t ${brief(torque.value)} N m/A is ${brief(ratio)} times k_e ${brief(voltage.value)} V s/rad: the factor of 1/min against rad/s; check the unit of the speed`,
      },
    ]
  }
  const sigma =
    ratio *
    Math.hypot(
      torque.standardUncertainty / torque.value,
      voltage.standardUncertainty / voltage.value,
    )
  if (!(Math.abs(ratio - 1) > Math.max(0.02, 3 * sigma))) return []
  return [
    {
      code: 'constants-differ',
      text: `k_t ${brief(torque.value)} N m/A differs from k_e ${brief(voltage.value)} V s/rad by ${brief(100 * (ratio - 1))} %; in SI they should agree`,
    },
  ]
}

const isRpmBetween = (a: number, b: number) => isRpmFactor(a / b) || isRpmFactor(b / a)

function isRpmFactor(ratio: number): boolean {
  return Math.abs(ratio / RPM_FACTOR - 1) < 0.08
}

const brief = (value: number) => String(Number(value.toPrecision(4)))
