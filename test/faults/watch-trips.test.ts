import { expect, onTestFinished, test } from 'vitest'
import { openSerialLink } from '../../server/link/serial-link.ts'
import type { HandAct } from '../../server/rig-host/hand-act.ts'
import { connectTo, startRig } from '../support/bench-at-work.ts'
import type { EffectiveLimits } from '../../src/procedure/limits.ts'
import type { PlanGuard, TestPlan } from '../../src/procedure/test-plan.ts'
import { LiveFakeRig } from '../support/live-fake-rig.ts'
import { coast, drive, IN_REAL_TIME, planOf, requestOf } from '../support/plans.ts'
import { tapRig } from '../support/tapped-rig.ts'

/** Every reason of the host's own watch, through a pseudo-terminal, by the rig's clock. */

const HOST_STOP_SEC = 0.1
/** As the host's watch has it, and how often it looks and asks for the bus voltage. */
const SILENT_SEC = 0.25
const TICK_SEC = 0.05
const BUS_SEC = 0.25

/** None of these is reached by a Dormouse 12 at 6 V. */
const WIDE: EffectiveLimits = {
  currentAmp: 1.5,
  currentLimitedBy: 'the test',
  voltageVolt: 12,
  voltageLimitedBy: 'the test',
  busVolt: 100,
  speedRadPerSec: null,
  riseKelvin: 30,
  stallSec: 3,
  stepSec: 10,
}

function guardOf(limits: Partial<EffectiveLimits>, allowedMeanRiseKelvin = 100): PlanGuard {
  return {
    limits: { ...WIDE, ...limits },
    allowedMeanRiseKelvin,
    brushVolt: 0,
    startCelsius: 20,
    pwmHz: null,
  }
}

const LOCKED: HandAct = { act: 'shaft', shaft: { hold: 'locked', angleRad: 0.3 } }
const FREE: HandAct = { act: 'shaft', shaft: { hold: 'free' } }

interface Trial {
  readonly code: string
  readonly hand: HandAct
  readonly shaft: TestPlan['shaft']
  readonly guard: PlanGuard
  /** Earliest and latest time from the start of the drive to the sample that shows it. */
  readonly fromSec: number
  readonly toSec: number
}

const trials: Trial[] = [
  {
    code: 'over-current',
    hand: LOCKED,
    shaft: 'any',
    // 6 V across 8 Ω and the brushes, locked: 0.7 A.
    guard: guardOf({ currentAmp: 0.4 }),
    fromSec: 0,
    toSec: 0.02,
  },
  {
    code: 'over-speed',
    hand: FREE,
    shaft: 'free',
    // Without load 6 V turn it at 400 rad/s.
    guard: guardOf({ speedRadPerSec: 200 }),
    fromSec: 0,
    toSec: 0.5,
  },
  {
    code: 'stalled',
    hand: LOCKED,
    shaft: 'locked',
    guard: guardOf({ stallSec: 0.3 }),
    fromSec: 0.3,
    toSec: 0.31,
  },
  {
    code: 'no-motion',
    hand: LOCKED,
    shaft: 'free',
    guard: guardOf({}),
    fromSec: 0.5,
    toSec: 0.51,
  },
  {
    code: 'slip',
    hand: { act: 'shaft', shaft: { hold: 'slipping', angleRad: 0, slipNm: 0.001 } },
    shaft: 'locked',
    guard: guardOf({}),
    fromSec: 0,
    toSec: 0.2,
  },
  {
    code: 'over-temperature',
    hand: LOCKED,
    shaft: 'locked',
    // 4 W into 1.6 J/K of copper: 2.7 K a second.
    guard: guardOf({}, 1),
    fromSec: 0.2,
    toSec: 2.5,
  },
]

test.each(trials)(
  '$code: the bridge is off within 100 ms of the sample that showed it',
  IN_REAL_TIME,
  async ({ code, hand, shaft, guard, fromSec, toSec }) => {
    const rig = await startRig()
    await rig.do(hand)
    const { session, recorder } = await connectTo(() => rig.open())
    const plan = planOf([coast(0.1), drive(6, 3)], { shaft, guard })
    const outcome = await session.run(requestOf(plan))
    expect(outcome).toMatchObject({ ending: 'tripped', trip: { by: 'host', code } })
    const [run] = recorder.runs
    const seenSec = run!.notes.find(note => note.code === code)!.timeSec!
    expect(run!.edges.map(edge => edge.state)).toEqual(['drive', 'coast'])
    const [on, off] = run!.edges.map(edge => edge.timeSec)
    expect(seenSec - on!).toBeGreaterThanOrEqual(fromSec)
    expect(seenSec - on!).toBeLessThan(toSec)
    expect(off! - seenSec).toBeLessThan(HOST_STOP_SEC)
    expect(run!.finished).toMatchObject({ ending: 'tripped' })
  },
)

test(
  'bus-voltage: a supply that is pumped up while the motor is driven is seen at the next look',
  IN_REAL_TIME,
  async () => {
    const fake = new LiveFakeRig()
    const { hardware } = fake
    const tap = await tapRig(fake)
    const { session } = await connectTo(() => openSerialLink(tap.path))
    let pumpedSec = Number.NaN
    const pumping = setInterval(() => {
      if (hardware.mode !== 'drive' || !Number.isNaN(pumpedSec)) return
      pumpedSec = hardware.timeSec
      hardware.busVolt = 29
    }, 20)
    onTestFinished(() => clearInterval(pumping))
    const guard = guardOf({ currentAmp: 4, busVolt: 26 })
    const outcome = await session.run(requestOf(planOf([drive(6, 5, 4)], { guard })))
    expect(outcome).toMatchObject({ ending: 'tripped', trip: { by: 'host', code: 'bus-voltage' } })
    const off = hardware.bridgeLog.at(-1)!
    expect(off.mode).toBe('coast')
    expect(off.timeSec - pumpedSec).toBeLessThan(BUS_SEC + TICK_SEC + HOST_STOP_SEC)
  },
)

test(
  'link-silent: a rig that hears but is not heard is stopped before its own watchdog would see a reason',
  IN_REAL_TIME,
  async () => {
    const tap = await tapRig(await startRig())
    const { session, recorder } = await connectTo(() => openSerialLink(tap.path))
    const deafening = setInterval(() => {
      const on = tap.bridge.at(-1)
      if (on?.mode === 'drive' && tap.passedUs - on.timeUs > 0.3e6) tap.deafen()
    }, 5)
    onTestFinished(() => clearInterval(deafening))
    const outcome = await session.run(requestOf(planOf([coast(0.1), drive(6, 5)])))
    // The host cannot know that it was obeyed: nothing comes back.
    expect(outcome).toMatchObject({
      ending: 'link-lost',
      trip: { by: 'host', code: 'link-silent' },
    })
    expect(recorder.runs[0]!.notes.map(note => note.code)).toContain('link-silent')
    expect(tap.bridge.map(({ mode }) => mode)).toEqual(['drive', 'coast'])
    const silentSec = (tap.bridge[1]!.timeUs - tap.passedUs) / 1e6
    expect(silentSec).toBeGreaterThan(SILENT_SEC)
    expect(silentSec).toBeLessThan(SILENT_SEC + TICK_SEC + HOST_STOP_SEC)
  },
)
