import { InputFault } from '../../src/base/faults.ts'
import type { BenchView, RigView, RunningView, TestBody } from '../../src/contract/http-bench.ts'
import type { LiveEvent } from '../../src/contract/live.ts'
import { planOperatorTest } from '../../src/procedure/plan-operator.ts'
import { planDurationSec, type TestPlan } from '../../src/procedure/test-plan.ts'
import type { BenchSession, CautionsToken } from '../session/bench-session.ts'
import { procedureFacts, type RigFacts } from '../session/rig-facts.ts'
import type { Store } from '../store/store.ts'

/** One test by the operator's numbers, as it will be driven. */
export function planOf(test: TestBody, session: BenchSession, store: Store): TestPlan {
  const bench = store.benches.ofRig(session.rig.serialNumber)
  const ambient = test.ambientCelsius ?? null
  const plan = planOperatorTest(
    {
      kind: test.kind,
      voltageVolt: test.voltageVolt ?? null,
      currentLimitAmp: test.currentLimitAmp ?? null,
      durationSec: test.durationSec ?? null,
      hottestCelsius: test.hottestCelsius ?? null,
      ambientCelsius: ambient,
      above60VoltDeclared: bench?.declaredAbove60Volt ?? false,
      conditions: { fixture: bench?.fixture ?? null },
    },
    procedureFacts(session.rig, ambient),
  )
  if (!plan.ok) throw new InputFault(plan.error.replace(/--voltage (\d+)/, 'a voltage of $1 V'))
  return plan.value
}

/** Resolves when the run has begun; what refuses it before is the caller's, its end is the stream's. */
export function begun(
  session: BenchSession,
  plan: TestPlan,
  motor: { id: number; name: string },
  acknowledged: CautionsToken | null,
): Promise<void> {
  return new Promise((resolve, reject) => {
    const deafen = session.listen(event => {
      if (event.type === 'run-started') resolve()
    })
    session
      .run({ plan, motor, acknowledged })
      .then(() => resolve(), reject)
      .finally(deafen)
  })
}

/** The test that has just begun, with what was planned of it. */
export function runningOf(
  event: Extract<LiveEvent, { type: 'run-started' }>,
  asked: { plan: TestPlan; motorId: number; motor: string } | null,
  nowMs: number,
): RunningView {
  const limits = asked?.plan.steps.map(step => step.currentLimitAmp) ?? []
  return {
    runId: event.runId,
    kind: event.kind,
    motorId: asked?.motorId ?? 0,
    motor: event.motor,
    startedAtMs: nowMs,
    currentLimitAmp: limits.length > 0 ? Math.max(...limits) : null,
    durationSec: asked ? planDurationSec(asked.plan) : null,
  }
}

/** The state of the connection in one word. */
export function stateOf(
  session: BenchSession | null,
  connecting: boolean,
  running: RunningView | null,
): BenchView['state'] {
  if (connecting) return 'connecting'
  if (!session || session.state === 'closed') return 'none'
  if (session.state === 'lost') return 'lost'
  return running ? 'running' : 'ready'
}

/** What a rig declared, as the page sees it. */
export function rigView(rig: RigFacts): RigView {
  return {
    model: rig.model,
    serialNumber: rig.serialNumber,
    firmware: rig.firmware,
    protocolVersion: rig.protocolVersion,
    simulated: rig.simulated,
    highestRateHz: Math.max(0, ...rig.ratesHz),
    channels: rig.channels.map(({ name, quantity, traits }) => ({
      name,
      quantity,
      noise: traits.noise,
      rangeLow: traits.rangeLow,
      rangeHigh: traits.rangeHigh,
    })),
    limits: { ...rig.limits },
  }
}
