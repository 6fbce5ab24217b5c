import { readingText } from '../../base/quantity-text.ts'
import { limitsOf } from '../bench-answers.ts'
import { ask, done, type StepLogic } from '../need.ts'
import type { AnswerForm, AnswerValue, Question } from '../question.ts'
import type { SequenceState } from '../sequence-state.ts'

const number = (unit: string, minimum: number, maximum: number, optional = false): AnswerForm => ({
  kind: 'number',
  unit,
  minimum,
  maximum,
  optional,
})

const question = (
  id: string,
  text: string,
  detail: string | null,
  form: AnswerForm,
  suggested: AnswerValue,
): Question => ({ id, step: 'questions', text, detail, form, suggested, handsNear: false })

/** Air of a simulated bench that does not measure it. */
const SIMULATED_AMBIENT_CELSIUS = 23

/**
 * What a motor weighs that takes so much power at standstill. Good enough where nothing can burn:
 * suggested for simulated rigs only. Common practice, no source.
 */
function guessedMassGram(stallWatt: number): number {
  return Math.max(5, Number((4 * stallWatt ** 0.68).toPrecision(2)))
}

export const MASS_ID = 'motor-mass'
export const MASS_AGAIN_ID = 'motor-mass-again'
const MASS_TEXT = 'What does the motor weigh?'
const MASS_FORM = number('g', 1, 50_000, true)

/** Asked where the next test might be too much for the smallest winding that the motor may have. */
export function massAgainQuestion({ rig, step }: SequenceState, title: string): Question {
  const { driveVolt, currentAmp } = rig.limits
  return {
    id: MASS_AGAIN_ID,
    step,
    text: `${MASS_TEXT} As far as is known, its winding might not stand the next test (${title}).`,
    detail: 'A kitchen scale will do. A heavier motor has more copper, which takes more heat.',
    form: MASS_FORM,
    suggested: rig.simulated ? guessedMassGram(driveVolt * currentAmp) : null,
    handsNear: false,
  }
}

/** In the order in which they are asked. */
function benchQuestions({ rig }: SequenceState): Question[] {
  const { driveVolt, currentAmp } = rig.limits
  const ambient = rig.ambientCelsius ?? (rig.simulated ? SIMULATED_AMBIENT_CELSIUS : null)
  return [
    question(
      'ambient',
      'How warm is the air at the motor?',
      'The resistance is converted to the reference temperature from here: 1 °C wrong is 0.4 % of R.',
      number('°C', -40, 90),
      ambient === null ? null : Math.round(ambient * 10) / 10,
    ),
    question(
      'supply-voltage',
      'To what voltage is the supply set?',
      `The rig drives up to ${readingText(driveVolt, 'V', 3).text}.`,
      number('V', 0.1, 1000),
      rig.supplyVolt ?? (rig.simulated ? driveVolt : null),
    ),
    question(
      'supply-current',
      'To what current limit is the supply set?',
      'A supply that limits first makes every reading at higher currents worthless.',
      number('A', 0.01, 1000),
      rig.simulated ? currentAmp : null,
    ),
    question(
      'motor-current',
      'What is the highest current that the motor may carry for a few tenths of a second?',
      `Leave empty where not known: then ${readingText(currentAmp, 'A', 3).text}, the rig's limit, or the supply's counts, and the rise of the winding bounds what is driven.`,
      number('A', 0.01, 1000, true),
      null,
    ),
    question(
      'motor-voltage',
      'What is the highest voltage for the motor?',
      'From the nameplate. Leave empty where not known: then the supply voltage counts.',
      number('V', 0.1, 1000, true),
      null,
    ),
    question(
      'motor-speed',
      'What is the highest speed that motor, coupling and disc stand?',
      'The lowest of the three. Leave empty where not known: then only the rig’s own limit counts.',
      number('rpm', 10, 300_000, true),
      null,
    ),
    question(
      MASS_ID,
      MASS_TEXT,
      'Tells how little its winding can be, so that the first pulses may be stronger. Leave empty where not known.',
      MASS_FORM,
      rig.simulated ? guessedMassGram(driveVolt * currentAmp) : null,
    ),
    question(
      'probe-scales',
      'Do the scales of the rig agree with the probes and the shunt on the bench?',
      [...rig.channelTexts, 'Compare with what is printed on shunt and probes (10:1 or 1:1).'].join(
        '\n',
      ),
      { kind: 'confirm', yes: 'they agree', no: 'they do not' },
      null,
    ),
  ]
}

export const questionsStep: StepLogic = {
  id: 'questions',
  title: 'Bench',
  operatorDoes: 'Answer what the rig cannot know: air, supply, limits of the motor, probes.',
  rigDoes: 'Nothing: the rig is disarmed.',
  mayBeSkipped: false,
  next(state) {
    const missing = (['voltage', 'current'] as const).find(
      name => !state.rig.channels.includes(name),
    )
    if (missing) return { type: 'stuck', text: `this rig has no ${missing} channel` }
    const open = benchQuestions(state).find(item => !(item.id in state.answers))
    if (open) return ask(open)
    if (state.answers['probe-scales'] === false) {
      return {
        type: 'stuck',
        text: 'the scales do not agree: set them right in the rig, or calibrate the channels, then repeat this step',
      }
    }
    const limits = limitsOf(state)
    if (!limits.ok) return { type: 'stuck', text: limits.error }
    const { currentAmp, currentLimitedBy, voltageVolt, voltageLimitedBy } = limits.value
    return done(
      `at most ${readingText(currentAmp, 'A', 3).text} (${currentLimitedBy}) and ${readingText(voltageVolt, 'V', 3).text} (${voltageLimitedBy})`,
    )
  },
  durationSec: () => 0,
}
