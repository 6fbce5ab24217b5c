import { prepareRun } from '../../src/identify/prepare/prepare-run.ts'
import { identifyMotor } from '../../src/identify/identify-motor.ts'
import { textbookFit } from '../../src/identify/textbook-fit.ts'
import { RunObserver } from '../../src/motor/run-observer.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import { trialRuns, TRIAL_MOTOR } from '../support/own-model-trial.ts'
import { genericFit } from './generic-fit.ts'
import { type SpeedRow, spentOn } from './section.ts'

/** Seven shared parameters: R, L, k, V_b, T_c, B and J; the drop jumps. */
const MOTOR = { ...TRIAL_MOTOR, brushKneeAmp: 0 }
const SETTINGS = {
  fixed: {},
  freed: [],
  referenceTemperatureCelsius: 20,
  brushDropLaw: 'sgn',
} as const
const TESTS_SEC = trialRuns(MOTOR, 1).reduce((sum, run) => sum + lengthSec(run), 0)
const MILLION = 1e6
const GROWTH = [1e4, 1e5, 1e6, 1e7]
/** As many as the generic route gets through in a few minutes. */
const GENERIC_SAMPLES = 1e5

/**
 * The identification on recordings of its own model with noise on every channel: from nothing to intervals,
 * against the time it may take, one bare simulation of the same model, and the generic route.
 */
export async function measure(seed: number): Promise<SpeedRow[]> {
  const rows: SpeedRow[] = []
  // Code is compiled before anything is timed.
  identified(samples(3e4, seed + 1))

  const equal = samples(GENERIC_SAMPLES, seed)
  const own = await spentOn(() => identified(equal))
  const separate = textbookFit('speed', equal, SETTINGS)
  if (!separate.ok) throw new Error(separate.error.text)
  const generic = await genericFit(equal, separate.value)
  rows.push({
    what: `generic route on ${count(equal)} samples from the same start: ml-levenberg-marquardt over an ODE solver, ${generic.iterations} iterations`,
    value: generic.elapsedSec,
    unit: 's',
    against: 'this fit on the same samples',
    ratio: generic.elapsedSec / own.elapsedSec,
    goal: { least: 100 },
  })

  for (const size of GROWTH) {
    const runs = samples(size, seed)
    const spent = await spentOn(() => identified(runs))
    const bare = await spentOn(() => bareSimulation(runs))
    const name = `${count(runs)} samples`
    rows.push({
      what: `fit of ${name}, automatic start to intervals`,
      value: spent.elapsedSec,
      unit: 's',
      against: `${2 * (size / MILLION)} s`,
      ratio: spent.elapsedSec / (2 * (size / MILLION)),
      ...(size === MILLION ? { goal: { most: 1 } } : {}),
    })
    rows.push({
      what: `the same, ${name}`,
      value: spent.elapsedSec,
      unit: 's',
      against: 'one bare simulation of the same model, a step a sample',
      ratio: spent.elapsedSec / bare.elapsedSec,
      ...(size === MILLION ? { goal: { most: 60 } } : {}),
    })
    const megabytes = process.resourceUsage().maxRSS / 1024
    rows.push({
      what: `peak memory so far, recordings included, at ${name}`,
      value: megabytes,
      unit: 'MB',
      against: '400 MB',
      ratio: megabytes / 400,
      ...(size === MILLION ? { goal: { most: 1 } } : {}),
    })
  }
  return rows
}

/** The trial's tests sampled so finely that they make `size` samples. */
const samples = (size: number, seed: number) => trialRuns(MOTOR, seed, size / TESTS_SEC)

function lengthSec({ recording }: TestRun): number {
  const time = recording.timeSec!
  return time[time.length - 1]! - time[0]!
}

const count = (runs: readonly TestRun[]) =>
  runs.reduce((sum, { recording }) => sum + recording.sampleCount, 0)

function identified(runs: readonly TestRun[]): void {
  const result = identifyMotor('speed', runs, SETTINGS, () => true)
  if (!result.ok) throw new Error(result.error.text)
  if (result.value.parameters.inertia.status !== 'determined') throw new Error('no inertia found')
}

/** The hybrid model from the measured voltage, every sample a step, nothing compared and nothing corrected. */
function bareSimulation(runs: readonly TestRun[]): void {
  for (const run of runs) {
    const prepared = prepareRun(readSignals(run), { merge: false, referenceCelsius: 20 })
    const observer = new RunObserver(
      prepared,
      { coordinates: [], tied: true },
      { referenceCelsius: 20, magnetPerKelvin: 0 },
    )
    observer.evaluate(MOTOR, { slopes: false, clip: Number.POSITIVE_INFINITY, cells: false })
  }
}
