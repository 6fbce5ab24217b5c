import { ask, done, type StepLogic } from '../need.ts'
import type { Question } from '../question.ts'

export const CAUTIONS_QUESTION: Question = {
  id: 'cautions',
  step: 'cautions',
  text: 'Read the cautions. Have you understood them, and may you run this bench?',
  detail: 'Local rules and qualified people come first. The stop control is no emergency stop.',
  form: { kind: 'acknowledge', label: 'I have read and understood the cautions' },
  suggested: null,
  handsNear: false,
}

export const cautionsStep: StepLogic = {
  id: 'cautions',
  title: 'Cautions',
  operatorDoes:
    'Read the cautions and acknowledge them. They come again after every new connection.',
  rigDoes: 'Nothing: the rig is disarmed.',
  mayBeSkipped: false,
  next: state => (state.cautionsAcknowledged ? done('acknowledged') : ask(CAUTIONS_QUESTION)),
  durationSec: () => 0,
}
