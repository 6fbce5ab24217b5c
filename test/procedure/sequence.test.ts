import { describe, expect, test } from 'vitest'
import { seededUniform } from '../../src/base/random.ts'
import { HOTTEST_OVER_MEAN } from '../../src/procedure/heat.ts'
import { advance, beginSequence } from '../../src/procedure/sequence.ts'
import { BENCH_SETTINGS } from '../../src/procedure/sequence-state.ts'
import { sequenceView } from '../../src/procedure/sequence-view.ts'
import { STEP_IDS } from '../../src/procedure/step.ts'
import { randomMotor, type StandInBench, standInBench, suitedRig } from './stand-in-motor.ts'
import { send, type Walk, type WalkOptions, walkSequence } from './walk-sequence.ts'

const NO_MASS = { 'motor-mass': null, 'motor-mass-again': null }

function bench(seed = 1): StandInBench {
  const motor = randomMotor(seededUniform(seed), 20, 12)
  // Slow sampling keeps the tests quick; the noise of a mean is then larger.
  return standInBench(motor, { ...suitedRig(motor, 12), ratesHz: [1000] }, seed)
}

/** Walks until something of a step is about to be driven. */
const untilTest = (step: string, options: WalkOptions): Walk =>
  walkSequence({
    ...options,
    until: walk => walk.state.step === step && walk.state.pending?.type === 'test',
  })

const view = (walk: Walk) => sequenceView(walk.state, walk.nowSec)
const statusOf = (walk: Walk, step: string) =>
  view(walk).steps.find(item => item.id === step)!.status

describe('a whole pass', () => {
  const options = { bench: bench(), answers: NO_MASS }
  const walk = walkSequence(options)

  test('walks every step in order and ends complete', () => {
    expect(walk.finished).toBe('complete')
    expect(view(walk).steps.map(item => item.status)).toEqual(STEP_IDS.map(() => 'done'))
    const order = walk.runs.map(({ run }) => STEP_IDS.indexOf(run.step))
    expect(order).toEqual([...order].sort((a, b) => a - b))
    expect(view(walk)).toMatchObject({ phase: 'finished', progress: 1, leftSec: 0 })
  })

  test('identifies from the measuring runs alone: zero, positions, free run, run-up, coast-down', () => {
    const kinds = walk.runs
      .filter(({ runId }) => walk.identified!.includes(runId))
      .map(({ run }) => run.plan.kind)
    expect(kinds).toEqual([
      'zero',
      ...Array.from({ length: 5 }, () => 'locked-rotor'),
      'free-run',
      'free-run',
      'run-up',
      'run-up',
      'coast-down',
      'coast-down',
    ])
  })

  test('asks for cautions first, and names the angle of every position', () => {
    expect(walk.asked[0]!.id).toBe('cautions')
    const angles = walk.runs
      .filter(
        ({ run, runId }) => run.plan.kind === 'locked-rotor' && walk.identified!.includes(runId),
      )
      .map(({ run }) => Math.round((run.plan.conditions.shaftAngleRad! * 180) / Math.PI))
    expect(angles).toEqual([0, 138, 275, 53, 190])
  })

  test('hands come near only where asked, and the bar is confirmed off before the shaft turns again', () => {
    const near = walk.asked.filter(item => item.handsNear).map(item => item.id)
    expect(near).toEqual([
      'shaft-free',
      'clamp-1',
      'clamp-2',
      'clamp-3',
      'clamp-4',
      'clamp-5',
      'shaft-free',
    ])
    const off = walk.asked.filter(item => item.id === 'shaft-free').at(-1)!
    expect(off.step).toBe('unlock')
    expect(off.detail).toMatch(/missile/)
  })

  test('says that the soak check was shortened for a simulated rig', () => {
    expect(walk.told[0]).toMatch(/simulated.*5 s instead of a minute/)
    expect(walk.waits.every(sec => sec <= 5)).toBe(true)
  })

  test('drives and waits for less than 45 s', () => {
    expect(walk.drivenSec).toBeLessThan(45)
  })
})

test('on a real rig the two small-current resistances lie a minute apart', () => {
  const own = bench()
  const real = { ...own, rig: { ...own.rig, simulated: false } }
  const answers = {
    ...NO_MASS,
    ambient: 22,
    'supply-voltage': 12,
    'supply-current': 10,
    rotation: 'clockwise',
  }
  const walk = walkSequence({
    bench: real,
    settings: BENCH_SETTINGS,
    answers,
    until: w => w.waits.length > 0,
  })
  expect(walk.waits[0]).toBeGreaterThan(59)
  expect(walk.told.join()).not.toMatch(/simulated/)
})

describe('what the operator is shown', () => {
  const walk = untilTest('locked-rotor', { bench: bench(), answers: NO_MASS })

  test('the rig’s next act in volts, amperes, seconds and kelvins', () => {
    expect(view(walk).rigDoes.replaceAll('\u00a0', ' ')).toMatch(
      /^Drives up to [\d.]+ m?V for [\d.]+ m?s in all; at most [\d.]+ m?A expected, bridge off above [\d.]+ A; hottest coil up to [\d.]+ K warmer\.$/,
    )
  })

  test('what to do, how far it has come, and what is left', () => {
    const shown = view(walk)
    expect(shown).toMatchObject({ current: 'locked-rotor', phase: 'testing', question: null })
    expect(shown.operatorDoes).toMatch(/hands off/)
    expect(shown.progress).toBeGreaterThan(0.1)
    expect(shown.progress).toBeLessThan(0.6)
    expect(shown.leftSec).toBeGreaterThan(10)
    expect(shown.may).toEqual({ back: false, repeat: false, skip: false, resume: false })
  })

  test('a wait is counted down', () => {
    const waiting = walkSequence({
      bench: bench(),
      answers: NO_MASS,
      until: w => w.state.pending?.type === 'wait',
    })
    const shown = sequenceView(waiting.state, waiting.nowSec + 2)
    expect(shown.phase).toBe('waiting')
    expect(shown.waitLeftSec).toBeCloseTo(view(waiting).waitLeftSec! - 2, 6)
    expect(shown.waitWhy).toMatch(/soak/)
  })
})

describe('stop', () => {
  test('stops at once, waits for nothing, and goes on where it was after a resume', () => {
    const options: WalkOptions = { bench: bench(), answers: NO_MASS }
    const walk = untilTest('free-run', options)
    const stopped = advance(walk.state, { type: 'stop', nowSec: walk.nowSec })
    expect(stopped.commands[0]).toEqual({ type: 'stop-now' })
    walk.state = stopped.state
    expect(view(walk)).toMatchObject({ phase: 'paused', pausedBecause: 'stopped by the operator' })
    expect(view(walk).may).toEqual({ back: true, repeat: true, skip: true, resume: true })
    send(walk, { type: 'resume', rig: options.bench.rig, newConnection: false } as never, options)
    expect(walk.finished).toBe('complete')
    expect(walk.asked.filter(item => item.id === 'cautions')).toHaveLength(1)
  })

  test('what a stopped pulse put into the winding still counts', () => {
    const options: WalkOptions = { bench: bench(), answers: NO_MASS }
    const walk = untilTest('locked-rotor', options)
    const before = walk.state.known.heat
    const stopped = advance(walk.state, { type: 'stop', nowSec: walk.nowSec })
    const { pending } = walk.state
    if (pending?.type !== 'test') throw new Error('a test is under way')
    const energyJoule = 3
    const summary = summaryOf(
      pending.plan.steps.findIndex(step => step.bridge === 'drive'),
      energyJoule,
    )
    const ended = advance(stopped.state, {
      type: 'test-finished',
      test: { runId: 99, ending: 'stopped', summary },
      nowSec: walk.nowSec,
    })
    const added =
      ended.state.known.heat.quickJoule +
      ended.state.known.heat.slowJoule -
      before.quickJoule -
      before.slowJoule
    expect(added).toBeCloseTo(energyJoule, 1)
    expect(ended.state.progress['locked-rotor'].tests).toHaveLength(0)
  })
})

function summaryOf(stepIndex: number, energyJoule: number) {
  const reading = { value: 1, uncertainty: 0.001 }
  return {
    steps: [
      {
        stepIndex,
        setVolt: 1,
        durationSec: 0.1,
        volt: reading,
        amp: reading,
        radPerSec: { value: 0, uncertainty: 0.1 },
        peakAmp: 1,
        peakRadPerSec: 0,
        turnedRad: 0,
        drift: null,
        driftJoule: null,
        energyJoule,
        currentRiseSec: null,
        speedRiseSec: null,
      },
    ],
    samples: 100,
    restVolt: null,
    restAmp: null,
    restRadPerSec: null,
    peakAmp: 1,
    peakRadPerSec: 0,
    aliasHz: null,
  }
}

describe('trips', () => {
  test('a clamp that slips stops the pulse, and the shaft has to be clamped anew', () => {
    const slipping = bench()
    slipping.slipNm = 0.3 * slipping.motor.constant * (12 / slipping.motor.resistanceOhm)
    const options = { bench: slipping, answers: NO_MASS }
    const walk = walkSequence(options)
    expect(walk.tripped[0]).toMatch(/locked shaft turned.*tighten the clamp/)
    expect(view(walk)).toMatchObject({ phase: 'paused', current: 'locked-rotor' })
    expect(walk.state.shaft).toEqual({ is: 'unknown' })
    slipping.slipNm = Number.POSITIVE_INFINITY
    const before = walk.asked.length
    send(walk, { type: 'resume', rig: slipping.rig, newConnection: false } as never, options)
    expect(walk.asked[before]!.id).toMatch(/^clamp-/)
    expect(walk.finished).toBe('complete')
  })

  test('a bar left on stops the free run at its gentle start', () => {
    const barred = bench()
    const options: WalkOptions = {
      bench: barred,
      answers: NO_MASS,
      beforeTest(_, run) {
        barred.jammed = run.step === 'free-run'
        return null
      },
    }
    const walk = walkSequence(options)
    expect(walk.tripped).toHaveLength(1)
    expect(walk.tripped[0]).toMatch(/^free run.*without turning: is the locking bar still on/)
    expect(walk.state.shaft).toEqual({ is: 'unknown' })
    expect(walk.finished).toBeNull()
  })

  test('a jammed motor is found by the first gentle pulses, before any strong one', () => {
    const jammed = bench()
    jammed.jammed = true
    const walk = walkSequence({ bench: jammed, answers: NO_MASS })
    expect(walk.tripped).toEqual([])
    expect(view(walk).pausedBecause).toMatch(/does not turn.*locking bar on/)
    expect(view(walk).may.skip).toBe(true)
  })
})

describe('the link', () => {
  test('is lost in a test: nothing goes on by itself; after a new connection the cautions come again', () => {
    const options: WalkOptions = { bench: bench(), answers: NO_MASS }
    const walk = untilTest('run-up', options)
    send(walk, { type: 'link-lost', text: 'the cable was pulled' } as never, options)
    expect(view(walk)).toMatchObject({ phase: 'paused', pausedBecause: 'the cable was pulled' })
    expect(view(walk).may).toEqual({ back: false, repeat: false, skip: false, resume: true })
    const asked = walk.asked.length
    send(walk, { type: 'resume', rig: options.bench.rig, newConnection: false } as never, options)
    expect(view(walk).phase).toBe('paused')
    send(walk, { type: 'resume', rig: options.bench.rig, newConnection: true } as never, options)
    expect(walk.asked.slice(asked).map(item => item.id)).toEqual(['cautions', 'shaft-free'])
    expect(walk.finished).toBe('complete')
  })

  test('another rig is refused by its serial number', () => {
    const options: WalkOptions = { bench: bench(), answers: NO_MASS }
    const walk = untilTest('run-up', options)
    send(walk, { type: 'link-lost', text: 'gone' } as never, options)
    const other = { ...options.bench.rig, serialNumber: 'S-2' }
    send(walk, { type: 'resume', rig: other, newConnection: true } as never, options)
    expect(view(walk).pausedBecause).toMatch(
      /another rig answers \(S-2, this sequence began on S-1\)/,
    )
  })
})

test('an interrupted sequence goes on from what was stored, without repeating what is done', () => {
  const options: WalkOptions = { bench: bench(), answers: NO_MASS }
  const walk = untilTest('coast-down', options)
  const stored = JSON.stringify(walk.state)
  walk.state = JSON.parse(stored)
  walk.nowSec += 3600
  const done = walk.runs.length
  send(walk, { type: 'link-lost', text: 'the sequence was interrupted' } as never, options)
  send(walk, { type: 'resume', rig: options.bench.rig, newConnection: true } as never, options)
  expect(walk.finished).toBe('complete')
  expect(walk.runs.slice(done).map(({ run }) => run.step)).toEqual([
    'coast-down',
    'coast-down',
    'recheck',
  ])
})

describe('back, repeat, skip', () => {
  test('back: the step before is done again, and its old runs no longer count', () => {
    const options: WalkOptions = { bench: bench(), answers: NO_MASS }
    const walk = untilTest('run-up', options)
    const old = walk.runs.filter(({ run }) => run.step === 'free-run').map(({ runId }) => runId)
    send(walk, { type: 'stop' }, options)
    send(walk, { type: 'back' }, options)
    expect(walk.finished).toBe('complete')
    expect(
      walk.runs.filter(({ run }) => run.step === 'free-run' && run.role === 'measure'),
    ).toHaveLength(4)
    for (const runId of old) expect(walk.identified).not.toContain(runId)
  })

  test('repeat: of the locked rotor the last position, clamped anew', () => {
    const options: WalkOptions = { bench: bench(), answers: NO_MASS }
    const walk = walkSequence({
      ...options,
      until: w => w.state.pending?.type === 'ask' && w.state.pending.question.id === 'clamp-3',
    })
    const asked = walk.asked.length
    send(walk, { type: 'repeat' }, options)
    expect(
      walk.asked
        .slice(asked)
        .map(item => item.id)
        .slice(0, 2),
    ).toEqual(['clamp-2', 'clamp-3'])
    const titles = walk.runs.filter(({ run }) => /position 2/.test(run.title))
    expect(titles).toHaveLength(2)
    expect(walk.identified).not.toContain(titles[0]!.runId)
    expect(walk.identified).toContain(titles[1]!.runId)
  })

  test('repeat: of the questions the last one', () => {
    const options: WalkOptions = { bench: bench(), answers: NO_MASS }
    const walk = walkSequence({
      ...options,
      until: w =>
        w.state.pending?.type === 'ask' && w.state.pending.question.id === 'motor-current',
    })
    const back = advance(walk.state, { type: 'repeat', nowSec: walk.nowSec })
    expect(back.state.pending).toMatchObject({ type: 'ask', question: { id: 'supply-current' } })
  })

  test('skip: goes on without, and the sequence says so in the end', () => {
    const options: WalkOptions = { bench: bench(), answers: NO_MASS }
    const walk = untilTest('coast-down', options)
    send(walk, { type: 'stop' }, options)
    send(walk, { type: 'skip' }, options)
    expect(walk.finished).toBe('incomplete')
    expect(statusOf(walk, 'coast-down')).toBe('skipped')
    expect(statusOf(walk, 'recheck')).toBe('done')
    expect(walk.identified).not.toHaveLength(0)
  })

  test('cautions and the bar cannot be skipped', () => {
    const walk = walkSequence({
      bench: bench(),
      answers: NO_MASS,
      until: w => w.state.pending?.type === 'ask' && w.state.step === 'unlock',
    })
    expect(view(walk).may.skip).toBe(false)
    const begun = walkSequence({ bench: bench(), until: () => true })
    expect(view(begun).may).toEqual({ back: false, repeat: false, skip: false, resume: false })
  })

  test('without a first turn the free run makes its own, and there is nothing to recheck k with', () => {
    const options: WalkOptions = { bench: bench(), answers: NO_MASS }
    const walk = untilTest('first-spin', options)
    send(walk, { type: 'stop' }, options)
    send(walk, { type: 'skip' }, options)
    expect(walk.finished).toBe('incomplete')
    expect(statusOf(walk, 'free-run')).toBe('done')
    expect(statusOf(walk, 'recheck')).toBe('skipped')
  })
})

describe('answers', () => {
  test('an answer that is none is told and asked again; one to another question is ignored', () => {
    const begun = beginSequence({
      motor: 'M1',
      rig: bench().rig,
      settings: BENCH_SETTINGS,
      fixture: null,
      above60VoltDeclared: false,
      nowSec: 0,
    })
    const wrong = advance(begun.state, {
      type: 'answer',
      questionId: 'cautions',
      value: false,
      nowSec: 1,
    })
    expect(wrong.commands.map(command => command.type)).toEqual(['tell', 'ask'])
    const other = advance(begun.state, {
      type: 'answer',
      questionId: 'ambient',
      value: 20,
      nowSec: 1,
    })
    expect(other).toEqual({ state: begun.state, commands: [] })
  })

  test('a supply above 60 V ends in words, not in a drive', () => {
    const walk = walkSequence({ bench: bench(), answers: { ...NO_MASS, 'supply-voltage': 72 } })
    expect(view(walk).pausedBecause).toMatch(/above 60 V DC nothing is driven/)
    expect(walk.runs).toEqual([])
  })

  test('scales that do not agree stop before anything is driven', () => {
    const walk = walkSequence({ bench: bench(), answers: { ...NO_MASS, 'probe-scales': false } })
    expect(view(walk).pausedBecause).toMatch(/scales do not agree/)
    expect(walk.runs).toEqual([])
  })

  test('a rotation that was not seen is shown once more', () => {
    let times = 0
    const own = bench()
    const options: WalkOptions = {
      bench: own,
      get answers() {
        return { ...NO_MASS, rotation: times++ === 0 ? 'not-seen' : 'clockwise' }
      },
      until: w => w.state.step === 'locked-rotor',
    }
    times = 0
    const walk = walkSequence(options)
    expect(walk.asked.filter(item => item.id === 'rotation').length).toBeGreaterThanOrEqual(1)
    expect(walk.state.answers.rotation).toBe('clockwise')
  })
})

describe('what is wired the wrong way round is named before anything strong is driven', () => {
  test.each([
    ['volt', /voltage reads opposite.*swap the voltage probe/],
    ['amp', /current reads opposite.*swap the leads of the shunt/],
    ['speed', /speed reads opposite.*encoder channels/],
  ] as const)('%s', (channel, words) => {
    const own = bench()
    own.signs = { ...own.signs, [channel]: -1 }
    const walk = walkSequence({ bench: own, answers: NO_MASS })
    expect(view(walk).pausedBecause).toMatch(words)
    const strongest = Math.max(...walk.runs.map(run => run.peakAmp))
    const stallAmp = 12 / own.motor.resistanceOhm
    expect(strongest).toBeLessThan(0.25 * stallAmp)
  })
})

test('magnets weakened by the stalls are found by the recheck', () => {
  const own = bench()
  const options: WalkOptions = {
    bench: own,
    answers: NO_MASS,
    beforeTest(_, run) {
      if (run.step === 'recheck') own.weakened = 0.94
      return null
    },
  }
  const walk = walkSequence(options)
  expect(walk.state.warnings.join()).toMatch(/k is lower than before the stalls.*magnets/)
})

test('a winding that may not get warm is given time to cool, counted down, and never passes the limit', () => {
  const own = bench(4)
  const walk = walkSequence({
    bench: own,
    answers: NO_MASS,
    settings: { riseLimitKelvin: 6, coolDownSec: 60 },
  })
  expect(HOTTEST_OVER_MEAN * own.hottestMeanKelvin).toBeLessThan(6)
  expect(walk.finished ?? view(walk).pausedBecause).toMatch(/complete|K/)
})

test('a rig without speed or position measures the standstill only', () => {
  const own = bench()
  const blind = { ...own.rig, channels: ['voltage', 'current'] as const }
  const walk = walkSequence({ bench: { ...own, rig: blind }, answers: NO_MASS })
  expect(walk.finished).toBe('incomplete')
  expect(statusOf(walk, 'locked-rotor')).toBe('done')
  expect(statusOf(walk, 'free-run')).toBe('skipped')
  expect(view(walk).steps.find(item => item.id === 'free-run')!.note).toMatch(
    /neither speed nor position/,
  )
})
