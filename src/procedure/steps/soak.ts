import { contextOf } from '../bench-answers.ts'
import { riseKelvin } from '../heat.ts'
import { ask, done, type Need, type StepLogic } from '../need.ts'
import { planGentle, planSmallCurrent } from '../plan-gentle.ts'
import type { Question } from '../question.ts'
import { answeredNumber, type SequenceState, type StepTest, testsOf } from '../sequence-state.ts'
import type { StallPoint } from '../stall-line.ts'
import { needFreeShaft } from './shaft.ts'

/** A current that is read this many times better than its noise is enough to compare resistances. */
const READABLE = 60
const GOAL_SHARE = 0.15
const MOST_PROBES = 14
const SOAKED_KELVIN = 1
const EXPECTED_PROBES = 5
const PROBE_SEC = 0.4

export const soakStep: StepLogic = {
  id: 'soak',
  title: 'Soak check',
  operatorDoes:
    'See that the motor is clamped and its shaft free, then wait. A motor that came from a colder or warmer place needs hours to take on the air’s temperature.',
  rigDoes: 'Short pulses at a small current, twice, with a wait between: is the resistance steady?',
  mayBeSkipped: true,
  next(state, nowSec) {
    const free = needFreeShaft(state, 'soak')
    if (free) return free
    const probes = testsOf(state, 'soak', 'gentle')
    const volt = readableVolt(state)
    if (volt === null) return probes.length < MOST_PROBES ? gentle(state) : notReadable()
    const checks = testsOf(state, 'soak', 'small-current')
    const wanted = 2 + extraRounds(state)
    if (checks.length === 0) return smallCurrent(state, volt)
    if (checks.length < wanted) {
      const untilSec = checks.at(-1)!.atSec + state.settings.soakIntervalSec
      if (nowSec < untilSec) return { type: 'wait', untilSec, why: waitText(state) }
      return smallCurrent(state, volt)
    }
    return verdict(state, checks)
  },
  durationSec: state => state.settings.soakIntervalSec + (EXPECTED_PROBES + 2) * PROBE_SEC,
}

function gentle(state: SequenceState): Need {
  const context = contextOf(state)
  return {
    type: 'test',
    tag: 'gentle',
    role: 'probe',
    title: 'gentle pulse',
    planned: planGentle(context, GOAL_SHARE * context.limits.currentAmp, 'any'),
  }
}

function smallCurrent(state: SequenceState, volt: number): Need {
  return {
    type: 'test',
    tag: 'small-current',
    role: 'probe',
    title: 'resistance at a small current',
    planned: planSmallCurrent(contextOf(state), volt),
  }
}

/** A voltage at which the shaft stands and the current is well read; null: not yet found. */
function readableVolt(state: SequenceState): number | null {
  const { stallPoints, breakAwayVolt } = state.known
  const clear = (times: number) => (point: StallPoint) =>
    point.standing && Math.abs(point.amp) > times * point.uncertaintyAmp
  const best = highest(stallPoints.filter(clear(READABLE)))
  if (best) return Math.abs(best.volt)
  // The shaft broke away, or the voltage is at its limit: the best there is has to do.
  const limits = contextOf(state).limits
  const tried = Math.max(0, ...stallPoints.map(point => Math.abs(point.volt)))
  if (breakAwayVolt === null && tried < 0.95 * limits.voltageVolt) return null
  const fair = highest(stallPoints.filter(clear(5)))
  return fair && Math.abs(fair.volt)
}

function highest(points: readonly StallPoint[]): StallPoint | null {
  if (points.length === 0) return null
  return points.reduce((a, b) => (Math.abs(b.volt) > Math.abs(a.volt) ? b : a))
}

const notReadable = (): Need =>
  done('not checked: the shaft turns before a current can be read', SOAK_UNCHECKED)
const SOAK_UNCHECKED =
  'whether the motor has soaked was not checked; let it stand in the room for some hours if it came from elsewhere'

function waitText({ rig, settings }: SequenceState): string {
  return rig.simulated
    ? `soak check, shortened to ${settings.soakIntervalSec} s because the rig is simulated`
    : 'soak check: does the resistance stay?'
}

/** How often the operator chose to wait for another round. */
function extraRounds(state: SequenceState): number {
  let rounds = 0
  while (state.answers[soakQuestionId(rounds + 1)] === 'wait') rounds++
  return rounds
}

const soakQuestionId = (round: number) => `soak-${round}`

function verdict(state: SequenceState, checks: readonly StepTest[]): Need {
  const [before, after] = checks.slice(-2)
  const first = ohmsOf(before!)
  const second = ohmsOf(after!)
  if (!first || !second) return notReadable()
  const ambient = answeredNumber(state, 'ambient') ?? 20
  const drift = riseKelvin(second.ohm / first.ohm, ambient)
  const noise = riseKelvin(1 + Math.hypot(first.relative, second.relative), ambient)
  const note = `changed by ${drift.toFixed(1)} K, read to ± ${(2 * noise).toFixed(1)} K`
  if (Math.abs(drift) <= SOAKED_KELVIN + 2 * noise) return done(note)
  const round = extraRounds(state) + 1
  if (state.answers[soakQuestionId(round)] === 'go-on') {
    return done(note, `the motor had not soaked: its resistance still moved (${note})`)
  }
  return ask(soakQuestion(round, drift))
}

function soakQuestion(round: number, driftKelvin: number): Question {
  return {
    id: soakQuestionId(round),
    step: 'soak',
    text: `The resistance still moves, by what ${Math.abs(driftKelvin).toFixed(1)} K of temperature would do. Wait and look again?`,
    detail:
      'Results are given at a reference temperature; they are as good as the one at the start.',
    form: {
      kind: 'choice',
      choices: [
        { value: 'wait', label: 'wait and look again' },
        { value: 'go-on', label: 'go on; the result will say so' },
      ],
    },
    suggested: 'go-on',
    handsNear: false,
  }
}

/** Mean of v/i over the pulses in which the shaft stood. */
function ohmsOf(test: StepTest): { ohm: number; relative: number } | null {
  const pulses = test.summary.steps.flatMap(step => {
    if (!step.volt || !step.amp || step.amp.value === 0) return []
    return [
      {
        ohm: step.volt.value / step.amp.value,
        relative: step.amp.uncertainty / Math.abs(step.amp.value),
      },
    ]
  })
  if (pulses.length === 0) return null
  return {
    ohm: pulses.reduce((sum, pulse) => sum + pulse.ohm, 0) / pulses.length,
    relative: Math.hypot(...pulses.map(pulse => pulse.relative)) / pulses.length,
  }
}
