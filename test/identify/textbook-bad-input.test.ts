import { describe, expect, test } from 'vitest'
import type { FitSettings } from '../../src/identify/fit-settings.ts'
import { textbookFit } from '../../src/identify/textbook-fit.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { expectRelative } from '../support/expect-relative.ts'
import {
  asRun,
  asTable,
  simulateMotor,
  textbookRuns,
  typicalMotor,
} from '../support/simulate-motor.ts'

const PLAIN: FitSettings = { fixed: {}, freed: [], referenceTemperatureCelsius: 20 }
const motor = typicalMotor(20, 12)
const noise = { volt: 6e-3, amp: 4e-3, radPerSec: 0.3 }
const runs = textbookRuns(motor, 12, 5000, { noise })

const faultOf = (of: readonly TestRun[], settings = PLAIN): string => {
  const result = textbookFit('mill no. 7', of, settings)
  return result.ok ? 'no fault' : result.error.text
}
const warningsOf = (of: readonly TestRun[]): string[] => {
  const result = textbookFit('mill no. 7', of, PLAIN)
  if (!result.ok) throw new Error(result.error.text)
  return result.value.warnings.map(({ code, run, text }) => `${code} ${run ?? ''}: ${text}`)
}
const changed = (run: TestRun, name: Quantity, of: (value: number) => number): TestRun => ({
  ...run,
  recording: {
    ...run.recording,
    columns: { ...run.recording.columns, [name]: run.recording.columns[name]!.map(of) },
  },
})
const swap = (run: TestRun): TestRun => {
  const { voltage, current, ...others } = run.recording.columns
  return {
    ...run,
    recording: { ...run.recording, columns: { ...others, voltage: current!, current: voltage! } },
  }
}

describe('a fit that cannot be made says so in one line', () => {
  test('no runs', () =>
    expect(faultOf([])).toBe("no runs of motor 'mill no. 7' to fit; log or import a test first"))

  test('zero tests only', () => {
    const zero = asTable(1, 'zero', { voltage: Float64Array.of(0, 0, 0) })
    expect(faultOf([zero])).toBe(
      "motor 'mill no. 7' has zero tests only; log or import a locked-rotor or free-run test",
    )
  })

  test('the wrong runs, each with its reason', () => {
    const table = asTable(4, 'run-up', {
      voltage: Float64Array.of(1),
      current: Float64Array.of(1),
      speed: Float64Array.of(1),
    })
    const blind = asTable(5, 'free-run', {
      voltage: Float64Array.of(1),
      current: Float64Array.of(1),
    })
    expect(faultOf([table, blind])).toBe(
      "no run of motor 'mill no. 7' can be fitted; run 4: a run-up has to be a recording with a time column; " +
        'run 5: a free-run test needs a speed or position channel; where the current shows the commutation, its ripple tells the speed',
    )
  })

  test('a locked rotor that never was', () => {
    const turning = simulateMotor(motor, [{ bridge: 'drive', volt: 6, sec: 0.3 }], 5000)
    expect(faultOf([asRun(3, 'locked-rotor', turning)])).toMatch(
      /run 3: the shaft turned in the locked-rotor test, up to \d+ rad\/s; check the clamp$/,
    )
  })

  test('settings that are no numbers', () => {
    expect(faultOf(runs, { ...PLAIN, fixed: { inertia: Number.NaN } })).toBe(
      'inertia fixed at NaN; has to be a number',
    )
    expect(faultOf(runs, { ...PLAIN, referenceTemperatureCelsius: 1000 })).toMatch(
      /reference temperature 1000 °C; has to be between/,
    )
  })

  test('no text runs over a line', () => {
    for (const text of [faultOf([]), ...warningsOf([runs[0]!])]) expect(text).not.toMatch(/\n/)
  })
})

describe('a run whose channels are wrong lends its numbers to nothing', () => {
  const fitOf = (of: readonly TestRun[]) => {
    const result = textbookFit('mill no. 7', of, PLAIN)
    if (!result.ok) throw new Error(result.error.text)
    return result.value
  }
  const spoilt: { name: string; run: TestRun; code: string }[] = [
    { name: 'swapped', run: swap(runs[0]!), code: 'swapped-channels' },
    {
      name: 'current reversed in a free run',
      run: changed(runs[1]!, 'current', amp => -amp),
      code: 'current-polarity',
    },
    {
      name: 'current that is always the same',
      run: changed(runs[0]!, 'current', () => 0.7),
      code: 'constant-channel',
    },
    {
      name: 'voltage that is always the same',
      run: changed(runs[0]!, 'voltage', () => 4.8),
      code: 'constant-channel',
    },
    {
      name: 'current saturated for long',
      run: changed(runs[0]!, 'current', amp => Math.max(-1, Math.min(amp, 1))),
      code: 'saturated-channel',
    },
  ]
  test.each(spoilt)('$name', ({ run, code }) => {
    const others = runs.filter(({ id }) => id !== run.id)
    const fit = fitOf(runs.map(good => (good.id === run.id ? run : good)))
    expect(fit.parameters).toEqual(fitOf(others).parameters)
    const about = fit.warnings.filter(w => w.run === run.id)
    expect(about.filter(w => w.code === code && /left out/.test(w.text))).toHaveLength(1)
    expect(faultOf([run])).toMatch(/can be fitted; run \d: /)
  })

  test('a few saturated samples are gaps and bend nothing', () => {
    const clean = fitOf(runs).parameters
    const inductive = changed(runs[2]!, 'current', amp => Math.min(amp, 6))
    const fit = fitOf(runs.map(good => (good.id === 3 ? inductive : good)))
    expect(fit.warnings.some(w => w.code === 'saturated-channel' && w.run === 3)).toBe(true)
    expect(fit.warnings.some(w => w.run === 3 && /left out/.test(w.text))).toBe(false)
    for (const name of ['resistance', 'backEmfConstant', 'inertia'] as const) {
      expectRelative(fit.parameters[name].value!, clean[name].value!, 0.02)
    }
  })
})

describe('what is wrong with a run is named with its number', () => {
  const others = runs.slice(1)
  const cases: { name: string; runs: readonly TestRun[]; says: RegExp }[] = [
    {
      name: 'speed reversed in a coast-down',
      runs: [runs[0]!, changed(runs[3]!, 'speed', w => -w)],
      says: /^speed-polarity 4: speed and voltage have opposite signs/,
    },
    {
      name: 'speed reversed in a run-up',
      runs: [runs[0]!, runs[1]!, changed(runs[2]!, 'speed', w => -w)],
      says: /^speed-polarity 3: the speed falls where the current should raise it/,
    },
    {
      name: 'speed in 1/min in one of three',
      runs: [runs[0]!, changed(runs[1]!, 'speed', w => w * 9.5493), runs[2]!, runs[3]!],
      says: /^speed-unit 2: .*1\/min against rad\/s/,
    },
    {
      name: 'current and voltage swapped in a locked rotor',
      runs: [swap(runs[0]!), ...others],
      says: /^swapped-channels 1:/,
    },
    {
      name: 'another motor under the same name',
      runs: [
        ...runs,
        ...textbookRuns({ ...motor, k: 1.3 * motor.k }, 12, 5000, { noise })
          .slice(1, 2)
          .map(run => ({ ...run, id: 8 })),
      ],
      says: /^contradicting-runs 8: k_e [\d.]+ V s\/rad here and [\d.]+ V s\/rad in the other runs/,
    },
    {
      name: 'a current in mA declared as A',
      runs: [runs[0]!, changed(runs[1]!, 'current', amp => 1000 * amp), ...others.slice(1)],
      says: /^current-unit 2: .*recorded in mA and declared as A/,
    },
    {
      name: 'two runs that disagree, of which either may be wrong',
      runs: [runs[0]!, changed(runs[1]!, 'speed', w => 1.3 * w), runs[3]!],
      says: /^contradicting-runs 2: k_e .* either may be wrong/,
    },
    {
      name: 'a voltage sensor at its end',
      runs: [
        runs[0]!,
        changed(runs[1]!, 'voltage', volt => Math.max(-8, Math.min(8, volt))),
        runs[3]!,
      ],
      says: /^saturated-channel 2: voltage/,
    },
    {
      name: 'a current sensor at its end',
      runs: [changed(runs[0]!, 'current', amp => Math.min(amp, 2)), ...others],
      says: /^saturated-channel 1: current/,
    },
    {
      name: 'a speed sensor that is not there',
      runs: [runs[0]!, changed(runs[1]!, 'speed', () => 0), runs[3]!],
      says: /^constant-channel 2: speed reads 0/,
    },
    {
      name: 'nobody noted the temperature',
      runs,
      says: /^assumed-temperature : .*20 °C is assumed/,
    },
  ]
  test.each(cases)('$name', ({ runs: odd, says }) => {
    expect(warningsOf(odd).filter(text => says.test(text)).length).toBeGreaterThan(0)
  })
})
