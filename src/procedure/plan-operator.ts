import { failure, type Result, success } from '../base/result.ts'
import { type TestConditions, UNKNOWN_CONDITIONS } from '../records/test-run.ts'
import type { TestKind } from '../records/test-kind.ts'
import { allowedMeanRise } from './heat.ts'
import { unknownMotor } from './known-motor.ts'
import { DEFAULT_RISE_LIMIT_KELVIN, effectiveLimits } from './limits.ts'
import { PULSE_RATE_HZ } from './plan-gentle.ts'
import { heatingRateHz, heatingRiseKelvin, heatingSteps, withThermometer } from './plan-heating.ts'
import {
  chooseRateHz,
  closePlan,
  coastStep,
  type PlanContext,
  type PlannedStep,
} from './plan-parts.ts'
import { TURNING_RATE_HZ } from './plan-spin.ts'
import type { RigFacts } from './rig-facts.ts'
import type { TestPlan } from './test-plan.ts'

/** One test by the operator's own numbers; null: the default of the kind, or the rig's limit. */
export interface OperatorTest {
  readonly kind: TestKind
  /** The sign is the direction. */
  readonly voltageVolt: number | null
  readonly currentLimitAmp: number | null
  readonly durationSec: number | null
  /** Heating only: the hottest coil; null: `SAFE_HOTTEST_CELSIUS`. */
  readonly hottestCelsius?: number | null
  readonly ambientCelsius: number | null
  readonly above60VoltDeclared: boolean
  /** What else is known of the surroundings: supply, fixture, shaft angle. */
  readonly conditions?: Partial<TestConditions>
}

const DEFAULT_SEC: Readonly<Record<TestKind, number>> = {
  zero: 2,
  'locked-rotor': 3,
  'free-run': 6,
  'run-up': 2,
  'coast-down': 6,
  'back-driven': 10,
  load: 10,
  heating: 1200,
  mixed: 6,
}
const LONGEST_SEC = 3600
const LONGEST_HEATING_SEC = 14_400
const LEAD_IN_SEC = 0.1
/** Kinds in which the bridge stays off: another machine, or nothing, turns the shaft. */
const UNDRIVEN: ReadonlySet<TestKind> = new Set(['zero', 'back-driven'])

/**
 * The plan for one test of a motor of which nothing is known: the operator answers for voltage and
 * duration; current is bounded by the lowest limit and the rig's trip. Fails with one line.
 */
export function planOperatorTest(test: OperatorTest, rig: RigFacts): Result<TestPlan, string> {
  const volt = test.voltageVolt
  const driven = !UNDRIVEN.has(test.kind)
  if (driven && (volt === null || volt === 0)) {
    return failure(`${test.kind}: needs a voltage, for example --voltage 3`)
  }
  if (!driven && volt !== null) {
    return failure(`${test.kind}: the bridge stays off; leave out --voltage`)
  }
  const durationSec = test.durationSec ?? DEFAULT_SEC[test.kind]
  const longestSec = test.kind === 'heating' ? LONGEST_HEATING_SEC : LONGEST_SEC
  if (!(durationSec >= 0.5 && durationSec <= longestSec)) {
    return failure(`duration of ${durationSec} s; must be from 0.5 s to ${longestSec} s`)
  }
  if (test.currentLimitAmp !== null && !(test.currentLimitAmp > 0)) {
    return failure(`current limit of ${test.currentLimitAmp} A; must be above 0 A`)
  }
  if (test.kind !== 'heating' && (test.hottestCelsius ?? null) !== null) {
    return failure(`${test.kind}: the temperature of the hottest coil is for a heating test`)
  }
  const rise =
    test.kind === 'heating'
      ? heatingRiseKelvin(test.ambientCelsius, test.hottestCelsius ?? null)
      : success(DEFAULT_RISE_LIMIT_KELVIN)
  if (!rise.ok) return failure(`${test.kind}: ${rise.error}`)
  const limits = effectiveLimits(
    {
      motorAmp: test.currentLimitAmp,
      motorVolt: null,
      motorRadPerSec: null,
      supplyVolt: test.conditions?.supplyVolt ?? rig.supplyVolt,
      supplyAmp: test.conditions?.supplyLimitAmp ?? null,
      riseKelvin: rise.value,
      above60VoltDeclared: test.above60VoltDeclared,
    },
    rig.limits,
  )
  if (!limits.ok) return limits
  const context: PlanContext = {
    rig,
    limits: limits.value,
    known: unknownMotor(0),
    conditions: { ...UNKNOWN_CONDITIONS, ...test.conditions, ambientCelsius: test.ambientCelsius },
  }
  const steps = operatorSteps(context, test.kind, volt ?? 0, durationSec)
  if (typeof steps === 'string') return failure(`${test.kind}: ${steps}`)
  const plan = closePlan(context, {
    kind: test.kind,
    shaft: shaftOf(test.kind),
    rateHz: rateOf(context, test.kind),
    steps,
  })
  if (!plan.ok) return failure(`${test.kind}: ${plan.error.text}`)
  return success(
    test.kind === 'heating'
      ? withThermometer(plan.value, volt!, test.ambientCelsius! + rise.value)
      : plan.value,
  )
}

function rateOf(context: PlanContext, kind: TestKind): number {
  if (kind === 'heating') return heatingRateHz(context)
  const wanted = kind === 'locked-rotor' ? PULSE_RATE_HZ : TURNING_RATE_HZ
  return chooseRateHz(context.rig.ratesHz, wanted)
}

function shaftOf(kind: TestKind): TestPlan['shaft'] {
  switch (kind) {
    case 'locked-rotor':
    case 'heating':
      return 'locked'
    case 'free-run':
    case 'run-up':
    case 'coast-down':
      return 'free'
    case 'zero':
    case 'back-driven':
    case 'load':
    case 'mixed':
      return 'any'
    default:
      return kind satisfies never
  }
}

/** The steps, or why the duration does not suit. */
function operatorSteps(
  context: PlanContext,
  kind: TestKind,
  volt: number,
  durationSec: number,
): readonly PlannedStep[] | string {
  const lead = coastStep(context, LEAD_IN_SEC, 'rest: offsets')
  const rest = durationSec - LEAD_IN_SEC
  switch (kind) {
    case 'zero':
      return [coastStep(context, durationSec, 'bridge off: offsets and noise of every channel')]
    case 'back-driven':
      return [coastStep(context, durationSec, 'terminals open: another machine turns the shaft')]
    case 'locked-rotor':
      return pulses(context, lead, volt, rest)
    case 'free-run':
      return [lead, ...stairs(context, volt, rest, 5)]
    case 'run-up':
      return [lead, drive(context, volt, rest, 'step from standstill')]
    case 'coast-down':
    case 'mixed':
      return [
        lead,
        ...stairs(context, volt, rest / 2, kind === 'mixed' ? 1 : 6),
        coastStep(context, rest / 2, 'terminals open: coasting down'),
      ]
    case 'load':
      return [
        lead,
        ...stairs(context, volt, rest / 5, 5),
        drive(context, volt, (rest * 4) / 5, 'under load'),
      ]
    case 'heating':
      return heatingSteps(
        context,
        { volt, durationSec },
        allowedMeanRise(context.known.heat, context.limits.riseKelvin),
      )
    default:
      return kind satisfies never
  }
}

/** The operator answers for the heat: nothing is known of the winding. */
function drive(
  context: PlanContext,
  volt: number,
  durationSec: number,
  purpose: string,
): PlannedStep {
  const step = coastStep(context, durationSec, purpose)
  return { ...step, bridge: 'drive', setVolt: Math.round(volt * 1000) / 1000 }
}

function stairs(
  context: PlanContext,
  volt: number,
  durationSec: number,
  count: number,
): PlannedStep[] {
  return Array.from({ length: count }, (_, i) =>
    drive(context, (volt * (i + 1)) / count, durationSec / count, `level ${i + 1} of ${count}`),
  )
}

const LEVELS = [0.25, 0.5, 0.75, 1]
const PULSE_SEC = 0.12
const SHORTEST_PULSE_SEC = 0.03
const REST_PER_PULSE = 1.5
const STALL_SHARE = 0.6

/** Rounds of pulses of both polarities, as many as fit; the first of all is the gentlest. */
function pulses(
  context: PlanContext,
  lead: PlannedStep,
  volt: number,
  durationSec: number,
): readonly PlannedStep[] | string {
  const signs = context.rig.reversible ? [1, -1] : [1]
  const count = LEVELS.length * signs.length
  const longest = STALL_SHARE * context.limits.stallSec
  const wanted = Math.min(PULSE_SEC, longest, durationSec / count / (1 + REST_PER_PULSE))
  if (wanted < SHORTEST_PULSE_SEC) {
    return `${durationSec} s is too short for ${count} pulses; at least ${(count * SHORTEST_PULSE_SEC * (1 + REST_PER_PULSE) + LEAD_IN_SEC).toFixed(1)} s`
  }
  const rounds = Math.max(1, Math.floor(durationSec / (count * wanted * (1 + REST_PER_PULSE))))
  const restSec = durationSec / (rounds * count) - wanted
  const steps = [lead]
  for (let round = 0; round < rounds; round++) {
    LEVELS.forEach((share, level) => {
      for (const sign of signs) {
        steps.push(
          drive(context, sign * share * volt, wanted, `level ${level + 1} of ${LEVELS.length}`),
        )
        steps.push(coastStep(context, restSec, 'rest'))
      }
    })
  }
  return steps
}
