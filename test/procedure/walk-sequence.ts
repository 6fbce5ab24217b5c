import { defaultAnswer } from '../../src/procedure/answers.ts'
import type { RigFacts } from '../../src/procedure/rig-facts.ts'
import type { AnswerValue, Question } from '../../src/procedure/question.ts'
import { advance, beginSequence, type Transition } from '../../src/procedure/sequence.ts'
import type { SequenceCommand } from '../../src/procedure/sequence-command.ts'
import type { SequenceEvent } from '../../src/procedure/sequence-event.ts'
import {
  type SequenceSettings,
  type SequenceState,
  SIMULATED_SETTINGS,
} from '../../src/procedure/sequence-state.ts'
import { summarise } from '../../src/procedure/summary.ts'
import { planDurationSec } from '../../src/procedure/test-plan.ts'
import { newWatch, watchRules, watchSamples } from '../../src/procedure/watch.ts'
import type { Recording } from '../../src/records/recording.ts'
import type { TestPlan } from '../../src/procedure/test-plan.ts'

type Run = Extract<SequenceCommand, { type: 'run-test' }>

/** A motor on a bench, whatever simulates it. */
export interface WalkBench {
  readonly rig: RigFacts
  setShaft(locked: boolean, angleRad: number | null): void
  /** Drives the plan from standstill. */
  drive(plan: TestPlan): { recording: Recording; tripped: boolean; peakAmp: number }
  /** Lets time pass with the bridge off. */
  rest(sec: number): void
}

/** What a caller of the sequence is: a bench, a clock, and somebody who answers. */
export interface Walk {
  state: SequenceState
  nowSec: number
  readonly told: string[]
  readonly asked: Question[]
  readonly runs: { run: Run; runId: number; peakAmp: number; peakRadPerSec: number }[]
  readonly waits: number[]
  /** Seconds of driving and waiting, by the rig's clock. */
  drivenSec: number
  identified: readonly number[] | null
  finished: string | null
  tripped: string[]
  /** Made safe, and nothing driven since. */
  safe: boolean
}

export interface WalkOptions {
  readonly bench: WalkBench
  readonly answers?: Readonly<Record<string, AnswerValue>>
  readonly settings?: Partial<SequenceSettings>
  /** Called before each test; may return an event that comes in place of the test. */
  readonly beforeTest?: (walk: Walk, run: Run) => Omit<SequenceEvent, 'nowSec'> | null
  /** Stops walking when true. */
  readonly until?: (walk: Walk) => boolean
}

export function walkSequence(options: WalkOptions): Walk {
  const { rig } = options.bench
  const settings = { ...SIMULATED_SETTINGS, ...options.settings }
  const begun = beginSequence({
    motor: 'M1',
    rig,
    settings,
    fixture: null,
    above60VoltDeclared: false,
    nowSec: 1000,
  })
  const walk: Walk = {
    state: begun.state,
    nowSec: 1000,
    told: [],
    asked: [],
    runs: [],
    waits: [],
    drivenSec: 0,
    identified: null,
    finished: null,
    tripped: [],
    safe: false,
  }
  goOn(walk, begun, options)
  return walk
}

export function send(walk: Walk, event: Omit<SequenceEvent, 'nowSec'>, options: WalkOptions): void {
  goOn(walk, advance(walk.state, { ...event, nowSec: walk.nowSec } as SequenceEvent), options)
}

const MOST_EVENTS = 400

function goOn(walk: Walk, from: Transition, options: WalkOptions): void {
  let transition = from
  for (let events = 0; events < MOST_EVENTS; events++) {
    // What is stored has to be enough: every state goes through JSON.
    walk.state = JSON.parse(JSON.stringify(transition.state))
    for (const command of transition.commands) note(walk, command, options)
    if (options.until?.(walk)) return
    const last = transition.commands.at(-1)
    const event = last && reply(walk, last, options)
    if (!event) return
    transition = advance(walk.state, { ...event, nowSec: walk.nowSec } as SequenceEvent)
  }
  throw new Error(
    `still going after ${MOST_EVENTS} events at ${walk.state.step}: ${JSON.stringify(walk.runs.slice(-4).map(r => [r.run.title, r.run.plan.steps.map(s => s.setVolt), r.peakAmp]))}`,
  )
}

function note(walk: Walk, command: SequenceCommand, { bench }: WalkOptions): void {
  if (command.type === 'tell') walk.told.push(command.text)
  if (command.type === 'ask') {
    walk.asked.push(command.question)
    if (command.question.handsNear && !walk.safe) {
      throw new Error(`'${command.question.id}' asked before the bench was made safe`)
    }
  }
  if (command.type === 'run-test') walk.safe = false
  if (command.type === 'finished') walk.finished = command.outcome
  if (command.type === 'set-simulated-shaft') {
    bench.setShaft(command.shaft === 'locked', command.angleRad)
  }
}

function reply(
  walk: Walk,
  command: SequenceCommand,
  options: WalkOptions,
): Omit<SequenceEvent, 'nowSec'> | null {
  switch (command.type) {
    case 'ask': {
      walk.nowSec += 1
      options.bench.rest(1)
      const { question } = command
      const given = options.answers ?? {}
      const value = question.id in given ? given[question.id]! : defaultAnswer(question)
      return { type: 'answer', questionId: question.id, value } as Omit<SequenceEvent, 'nowSec'>
    }
    case 'make-safe':
      walk.nowSec += 0.1
      walk.safe = true
      options.bench.rest(0.1)
      return { type: 'made-safe' }
    case 'wait':
      walk.waits.push(command.untilSec - walk.nowSec)
      walk.drivenSec += Math.max(0, command.untilSec - walk.nowSec)
      options.bench.rest(Math.max(0, command.untilSec - walk.nowSec))
      walk.nowSec = Math.max(walk.nowSec, command.untilSec)
      return { type: 'tick' }
    case 'run-test':
      return options.beforeTest?.(walk, command) ?? test(walk, command, options)
    case 'identify':
      walk.identified = command.runIds
      return { type: 'identified', text: 'done' } as Omit<SequenceEvent, 'nowSec'>
    case 'tell':
    case 'set-simulated-shaft':
    case 'stop-now':
    case 'finished':
      return null
    default:
      return command satisfies never
  }
}

function test(walk: Walk, run: Run, { bench }: WalkOptions): Omit<SequenceEvent, 'nowSec'> {
  const { plan } = run
  const driven = bench.drive(plan)
  const runId = walk.runs.length + 1
  walk.nowSec += planDurationSec(plan)
  walk.drivenSec += planDurationSec(plan)
  walk.runs.push({
    run,
    runId,
    peakAmp: driven.peakAmp,
    peakRadPerSec: largestOf(driven.recording.columns.speed),
  })
  const { timeSec, bridge, columns, sampleCount } = driven.recording
  const trip = watchSamples(
    newWatch(),
    {
      count: sampleCount,
      timeSec: timeSec!,
      bridge,
      voltage: columns.voltage ?? null,
      current: columns.current ?? null,
      speed: columns.speed ?? null,
      position: null,
      temperature: null,
    },
    watchRules(plan),
  )
  const summary = summarise(driven.recording, plan)
  if (driven.tripped || trip) {
    const code = trip?.code ?? 'over-current'
    walk.tripped.push(`${run.title}: ${trip?.text ?? code}`)
    const tripped = {
      type: 'tripped',
      by: trip ? 'host' : 'rig',
      code,
      text: trip?.text ?? 'over-current',
      test: { runId, ending: 'tripped', summary },
    }
    return tripped as Omit<SequenceEvent, 'nowSec'>
  }
  const finished = { type: 'test-finished', test: { runId, ending: 'complete', summary } }
  return finished as Omit<SequenceEvent, 'nowSec'>
}

const largestOf = (values: Float64Array | undefined) =>
  values?.reduce((most, value) => Math.max(most, Math.abs(value)), 0) ?? 0
