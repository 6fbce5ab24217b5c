import { failure, type Result, success } from '../base/result.ts'
import type { TestRun } from '../records/test-run.ts'
import { type RunSignals, readSignals, type ZeroOffsets } from '../signals/run-signals.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import { coastVoltage, type SampleRange } from './coast-voltage.ts'
import { type AnalysisFault, measured, type TestAnalysis } from './result.ts'

export interface BackDrivenAnalysis extends TestAnalysis {
  readonly kind: 'back-driven'
  readonly backEmfConstant: Estimate
}

/**
 * A motor turned from outside with its terminals open: k_e is the slope of voltage over speed. Samples with
 * current are left out. Recordings and hand-read tables.
 */
export function analyseBackDriven(
  run: TestRun,
  zeros: ZeroOffsets = {},
): Result<BackDrivenAnalysis, AnalysisFault> {
  const signals = readSignals(run, zeros)
  if (!signals.voltage || !signals.speed) {
    return failure({
      code: 'missing-channel',
      text: 'a back-driven test needs voltage and a speed or position channel',
    })
  }
  const found = coastVoltage(signals, openRanges(signals))
  if (!found) {
    return failure({
      code: 'no-usable-data',
      text: 'no stretch with open terminals and a turning shaft; disconnect the bridge and turn the shaft',
    })
  }
  const { constant, offsetVolt } = found
  return success({
    kind: 'back-driven',
    method: 'slope of the voltage at open terminals over speed, errors in both',
    backEmfConstant: constant,
    values: {
      backEmfConstant: measured(
        'V s/rad',
        constant.value,
        constant.standardUncertainty,
        constant.degreesOfFreedom,
      ),
    },
    fitted: { voltage: signals.speed.values.map(w => constant.value * w + offsetVolt) },
    warnings:
      constant.value < 0
        ? [
            {
              code: 'speed-polarity',
              text: 'speed and voltage have opposite signs; turn the speed channel round',
            },
          ]
        : [],
  })
}

function openRanges({ count, current, speed }: RunSignals): SampleRange[] {
  const still = Math.max(6 * speed!.noise, 0.02 * speed!.reach)
  const flows = current ? Math.max(6 * current.noise, 0.01 * current.reach) : 0
  const open = (i: number) =>
    Math.abs(speed!.values[i]!) > still &&
    !(current && current.reach > 20 * current.noise && Math.abs(current.values[i]!) > flows)
  const ranges: SampleRange[] = []
  for (let i = 0; i < count; ) {
    let end = i
    while (end < count && open(end)) end++
    if (end > i) ranges.push({ start: i, end })
    i = Math.max(end, i + 1)
  }
  return ranges
}
