import { StoppedFault, WorkFault } from '../../src/base/faults.ts'
import type { ShortTestPart } from '../../src/procedure/plan-short-test.ts'
import type { SampleVerdict } from '../../src/quality/verdict.ts'
import type { Motor } from '../../src/records/motor.ts'
import { runJob } from '../jobs/run-job.ts'
import type { ReportJob } from '../jobs/job.ts'
import type { BenchSession, CautionsToken } from '../session/bench-session.ts'
import { waitUntilStill } from '../session/standstill.ts'
import type { Store, StoredFit } from '../store/store.ts'
import { judgeMotor, type JudgingGround } from './compare-batch.ts'
import { refitTerms } from './refit-batch.ts'
import type { PlannedShortTest } from './short-test-plan.ts'

export interface ShortTestBench {
  readonly session: BenchSession
  readonly store: Store
  readonly acknowledged: CautionsToken | null
  readonly signal: AbortSignal
  readonly now: () => number
  /**
   * Has the shaft locked at a position, or freed, with the motor at rest and its terminals dead. Resolves when
   * it is done; rejects where the operator stops.
   */
  readonly placeShaft: (part: ShortTestPart, isFirst: boolean) => Promise<void>
  readonly report: ReportJob
}

export interface ShortTestResult {
  readonly fit: StoredFit
  readonly verdict: SampleVerdict
}

/**
 * Drives the parts of a short test, identifies the motor from them and judges it. A part that ends in any
 * other way than complete ends the test; what was logged is kept.
 */
export async function runShortTest(
  bench: ShortTestBench,
  motor: Motor,
  planned: PlannedShortTest,
  ground: JudgingGround,
  operator: string,
): Promise<ShortTestResult> {
  const { session, store } = bench
  const { parts } = planned.test
  const runIds: number[] = []
  for (const [index, part] of parts.entries()) {
    const before = parts[index - 1]
    if (!before || before.angleRad !== part.angleRad) {
      // Hands come near only when nothing moves and nothing is alive.
      await session.stop('the shaft is to be locked or freed')
      await waitUntilStill(session, bench.now)
      await bench.placeShaft(part, index === 0)
    }
    bench.report({ fraction: index / (parts.length + 1), text: part.title })
    const outcome = await session.run({
      plan: part.plan,
      motor,
      acknowledged: bench.acknowledged,
      signal: bench.signal,
    })
    store.runs.change(outcome.runId, { title: part.title })
    if (outcome.ending !== 'complete') {
      const text = `${part.title}: ${outcome.text}; run ${outcome.runId} is kept, '${motor.name}' was not judged`
      throw outcome.ending === 'link-lost' ? new WorkFault(text) : new StoppedFault(text)
    }
    runIds.push(outcome.runId)
  }
  bench.report({ fraction: parts.length / (parts.length + 1), text: 'identifying' })
  const { referenceTemperatureCelsius, likeFitId } = refitTerms(store, ground.limits)
  const fit = await runJob(
    'fit',
    {
      storeFile: store.file,
      motor: motor.name,
      runIds,
      settings: {
        fixed: {},
        freed: [],
        referenceTemperatureCelsius,
      },
      likeFitId,
    },
    { signal: bench.signal },
  )
  store.shortTests.add({
    motorId: motor.id,
    limitSetId: ground.limits.id,
    fitId: fit.id,
    operator,
    prediction: planned.prediction,
  })
  return { fit, verdict: judgeMotor(store, motor, ground) }
}
