import { analyseRun, type RunAnalysis } from '../analysis/analyse-run.ts'
import type { LockedRotorAnalysis } from '../analysis/locked-rotor.ts'
import type { Moving } from '../analysis/moving.ts'
import type { AnalysisFault, KnownParameters } from '../analysis/result.ts'
import type { TestRun } from '../records/test-run.ts'
import type { ChannelFinding } from '../signals/channel-finding.ts'
import { screenRun } from '../signals/screen-run.ts'
import type { ConstantOfRun } from './electrical-combination.ts'
import { noZeroTest, type RunZeros } from './run-zeros.ts'
import { type TestTemperature, testTemperature } from './test-temperature.ts'

/** One run with what its own analysis says, or why it says nothing. */
export interface RunReading {
  readonly run: TestRun
  readonly temperature: TestTemperature
  readonly analysis: RunAnalysis | null
  readonly fault: AnalysisFault | null
  /** What is odd about the channels. */
  readonly findings: readonly ChannelFinding[]
}

/** Each run by its own analysis; `knownAt` gives what is known at the temperature of the run. */
export function readRuns(
  runs: readonly TestRun[],
  referenceCelsius: number,
  zeros: RunZeros,
  knownAt: (temperature: TestTemperature) => KnownParameters,
): RunReading[] {
  return runs.map(run => {
    const temperature = testTemperature(run, referenceCelsius)
    const zero = zeros(run)
    const { run: clean, findings, spoiledBy } = screenRun(run, zero.offsets)
    const common = { run, temperature, findings: [...findings, ...noZeroTest(zero)] }
    if (spoiledBy) {
      const fault = { code: 'no-usable-data' as const, text: spoiledBy.text }
      return { ...common, analysis: null, fault }
    }
    const result = analyseRun(clean, knownAt(temperature), zero.offsets)
    return result.ok
      ? { ...common, analysis: result.value, fault: null }
      : { ...common, analysis: null, fault: result.error }
  })
}

/** The locked-rotor part of a reading: the whole of such a run, the held phases of a mixed one. */
export function stallOf({ analysis }: RunReading): LockedRotorAnalysis | null {
  if (!analysis) return null
  if ('stall' in analysis && 'points' in analysis) return analysis
  return 'turning' in analysis ? analysis.stall : null
}

/** The turning part of a reading. */
export function movingOf({ analysis }: RunReading): Moving | null {
  if (!analysis) return null
  if ('moving' in analysis) return analysis.moving
  return 'turning' in analysis ? (analysis.turning?.moving ?? null) : null
}

/** The constant of a back-driven run, which is no turning run of its own. */
export function backDrivenConstants(readings: readonly RunReading[]): ConstantOfRun[] {
  return readings.flatMap(({ run, analysis }): ConstantOfRun[] =>
    analysis && 'backEmfConstant' in analysis && analysis.backEmfConstant.value > 0
      ? [
          {
            run: run.id,
            estimate: analysis.backEmfConstant,
            how: 'open terminals',
            withResistance: 0,
            withBrushDrop: 0,
          },
        ]
      : [],
  )
}
