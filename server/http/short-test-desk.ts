import { InputFault, StoppedFault } from '../../src/base/faults.ts'
import type {
  ShortTestAct,
  ShortTestBody,
  ShortTestPlan,
  ShortTestQuery,
  ShortTestView,
} from '../../src/contract/http-samples.ts'
import type { ShortTestPart } from '../../src/procedure/plan-short-test.ts'
import type { Motor } from '../../src/records/motor.ts'
import { benchChecks } from '../quality/bench-checks.ts'
import { groundOf, type JudgingGround } from '../quality/compare-batch.ts'
import { runShortTest } from '../quality/run-short-test.ts'
import { sampleMotor } from '../quality/sample-motor.ts'
import { type PlannedShortTest, planForType } from '../quality/short-test-plan.ts'
import type { BenchSession, CautionsToken } from '../session/bench-session.ts'
import { procedureFacts } from '../session/rig-facts.ts'
import type { SimulatedHands } from '../session/sequence-runner.ts'
import type { Store } from '../store/store.ts'
import { decisionRule } from './decision-rule.ts'

/** Short tests that a page starts: one at a time, the last one stays to be seen. */
export interface ShortTestDesk {
  readonly view: ShortTestView | null
  readonly isBusy: boolean
  plan(session: BenchSession | null, query: ShortTestQuery): ShortTestPlan
  /** Throws what refuses it; how it goes on is in the view. */
  start(bench: ShortTestPlace, order: ShortTestBody): void
  act(act: ShortTestAct['act']): Promise<void>
  /** Ends whatever waits; the bridge is the session's to open. */
  stop(reason: string): void
}

export interface ShortTestPlace {
  readonly session: BenchSession
  /** Of a simulated rig; null where a person's hands move the shaft. */
  readonly hands: SimulatedHands | null
  readonly acknowledged: CautionsToken | null
}

export interface ShortTestDeskOptions {
  readonly store: Store
  readonly now: () => number
  readonly changed: () => void
}

type Choices = Pick<ShortTestQuery, 'type' | 'rule' | 'level' | 'motorMassKg' | 'ambientCelsius'>

export function createShortTestDesk({ store, now, changed }: ShortTestDeskOptions): ShortTestDesk {
  let view: ShortTestView | null = null
  let abort: AbortController | null = null
  let shaftReady: (() => void) | null = null

  const change = (changes: Partial<ShortTestView>) => {
    if (view) view = { ...view, ...changes }
    changed()
  }
  const planned = (
    session: BenchSession,
    choices: Choices,
  ): { ground: JudgingGround; test: PlannedShortTest } => {
    const type = store.types.get(choices.type)
    const limits = store.limits.current(type.id)
    if (!limits) throw new InputFault(`type '${type.name}' has no limits yet; set them first`)
    const ground = groundOf(store, type, limits, decisionRule(choices))
    const ambientCelsius = choices.ambientCelsius ?? null
    return {
      ground,
      test: planForType(store, ground, {
        rig: procedureFacts(session.rig, ambientCelsius),
        above60VoltDeclared:
          store.benches.ofRig(session.rig.serialNumber)?.declaredAbove60Volt ?? false,
        positions: null,
        currentLimitAmp: null,
        ambientCelsius,
        motorMassKg: choices.motorMassKg ?? null,
      }),
    }
  }

  /** A simulated shaft is moved by the rig; a real one by the operator, who says when it is done. */
  const placeShaft = (
    hands: SimulatedHands | null,
    { angleRad, plan }: ShortTestPart,
    isFirst: boolean,
    signal: AbortSignal,
  ): Promise<void> => {
    if (hands) return hands.setShaft(angleRad === null ? 'free' : 'locked', angleRad)
    change({
      phase: 'shaft',
      text: `Bridge off, shaft at rest. ${shaftWords(plan.shaft, isFirst)}`,
    })
    return new Promise((resolve, reject) => {
      const stopped = () => reject(signal.reason)
      signal.addEventListener('abort', stopped, { once: true })
      shaftReady = () => {
        shaftReady = null
        signal.removeEventListener('abort', stopped)
        resolve()
      }
    })
  }

  return {
    get view() {
      return view
    },
    get isBusy() {
      return abort !== null
    },
    plan(session, query) {
      const refused = (text: string): ShortTestPlan => ({
        refused: text,
        drivenSec: null,
        positions: null,
        prediction: [],
        warnings: [],
      })
      if (!session) return refused('no rig is connected; connect one at the bench')
      try {
        const { ground, test } = planned(session, query)
        const quantities = ground.resolved.map(limit => limit.quantity)
        const checks = benchChecks(store, quantities, new Date(now()).toISOString())
        return {
          refused: null,
          drivenSec: test.test.drivenSec,
          positions: test.test.positions,
          prediction: test.prediction.map(each => ({ ...each })),
          warnings: checks.flatMap(check => check.warnings),
        }
      } catch (error) {
        if (error instanceof InputFault) return refused(pageWords(error.message))
        throw error
      }
    },
    start({ session, hands, acknowledged }, order) {
      if (abort) throw new InputFault('a short test is under way; stop it, or wait for its end')
      const { ground, test } = planned(session, order)
      const motor = motorOf(store, ground, order)
      const control = new AbortController()
      abort = control
      const { what } = order
      view = {
        what: what.kind,
        motor: motor.name,
        motorId: motor.id,
        batchId: what.kind === 'sample' ? what.batch : null,
        study: what.kind === 'trial' ? what.study : null,
        phase: 'making-safe',
        text: 'Bridge off; waiting until the shaft is at rest.',
        progress: 0,
        verdict: null,
      }
      changed()
      runShortTest(
        {
          session,
          store,
          acknowledged,
          signal: control.signal,
          now,
          placeShaft: (part, isFirst) => placeShaft(hands, part, isFirst, control.signal),
          report: ({ fraction, text }) =>
            change({
              phase: text === 'identifying' ? 'identifying' : 'testing',
              text,
              progress: fraction,
            }),
        },
        motor,
        test,
        ground,
        order.operator,
      )
        .then(({ fit, verdict }) => {
          count(store, order, motor, fit.id)
          change({
            phase: 'done',
            text: 'done',
            progress: 1,
            verdict: structuredClone(verdict) as ShortTestView['verdict'],
          })
        })
        .catch(error => change({ phase: 'ended', text: (error as Error).message }))
        .finally(() => {
          abort = null
          shaftReady = null
          changed()
        })
    },
    async act(act) {
      if (act === 'shaft-ready') {
        if (!shaftReady) throw new InputFault('no short test waits for the shaft now')
        shaftReady()
        return
      }
      if (abort) throw new InputFault('the short test is under way; stop it first')
      view = null
      changed()
    },
    stop(reason) {
      abort?.abort(new StoppedFault(reason))
    },
  }
}

function shaftWords(shaft: ShortTestPart['plan']['shaft'], isFirst: boolean): string {
  if (shaft === 'free') return 'Take the locking device off; nothing may touch the shaft.'
  return isFirst ? 'Lock the shaft.' : 'Turn the shaft by about 140 degrees and lock it again.'
}

/** Faults of the plan name options of the command line; the page has fields for them. */
const pageWords = (text: string): string =>
  text
    .replace('--motor-mass', 'the mass of the motor')
    .replace(/: rotorfit limits set [^;]*$/, ': set limits with a reference below')

/** The motor that the order is about; a sample that is new is added and put into its batch. */
function motorOf(store: Store, { type }: JudgingGround, { what }: ShortTestBody): Motor {
  if (what.kind === 'sample') {
    const batch = store.batches.get(what.batch)
    const { motor } = sampleMotor(store, type, what.serialNumber.trim())
    store.batches.include(batch.id, motor.id)
    return motor
  }
  const motor = store.motors.get(what.motor)
  if (motor.typeId !== type.id) {
    throw new InputFault(`'${motor.name}' is not of type '${type.name}'; choose one that is`)
  }
  return motor
}

function count(store: Store, { what, operator }: ShortTestBody, motor: Motor, fitId: number): void {
  if (what.kind === 'check') store.checkMeasurements.add({ motorId: motor.id, operator, fitId })
  if (what.kind === 'trial') {
    store.gaugeTrials.add({ study: what.study, motorId: motor.id, operator, fitId })
  }
}
