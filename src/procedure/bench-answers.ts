import type { Result } from '../base/result.ts'
import type { TestConditions } from '../records/test-run.ts'
import { type EffectiveLimits, effectiveLimits } from './limits.ts'
import type { PlanContext } from './plan-parts.ts'
import { answeredNumber, type SequenceState } from './sequence-state.ts'

const RAD_PER_SEC_PER_RPM = (2 * Math.PI) / 60

/** The limits that follow from what was answered so far. */
export function limitsOf(state: SequenceState): Result<EffectiveLimits, string> {
  const rpm = answeredNumber(state, 'motor-speed')
  return effectiveLimits(
    {
      motorAmp: answeredNumber(state, 'motor-current'),
      motorVolt: answeredNumber(state, 'motor-voltage'),
      motorRadPerSec: rpm === null ? null : rpm * RAD_PER_SEC_PER_RPM,
      supplyVolt: answeredNumber(state, 'supply-voltage'),
      supplyAmp: answeredNumber(state, 'supply-current'),
      riseKelvin: state.settings.riseLimitKelvin,
      above60VoltDeclared: state.above60VoltDeclared,
    },
    state.rig.limits,
  )
}

/** Everything the planners go by. The questions are answered when a test is planned. */
export function contextOf(state: SequenceState): PlanContext {
  const limits = limitsOf(state)
  if (!limits.ok) throw new RangeError(`limits = ${limits.error}; must be settled before a test`)
  return {
    rig: state.rig,
    limits: limits.value,
    known: state.known,
    conditions: conditionsOf(state),
  }
}

function conditionsOf(state: SequenceState): TestConditions {
  return {
    ambientCelsius: answeredNumber(state, 'ambient'),
    windingCelsius: null,
    supplyVolt: answeredNumber(state, 'supply-voltage'),
    supplyLimitAmp: answeredNumber(state, 'supply-current'),
    switchingHz: state.rig?.pwmHz ?? null,
    shaftAngleRad: state.shaft.is === 'locked' ? state.shaft.angleRad : null,
    fixture: state.fixture,
    addedInertiaKgM2: 0,
    loadTorqueNm: 0,
  }
}
