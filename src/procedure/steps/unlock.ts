import { ask, done, type StepLogic } from '../need.ts'
import { shaftFreeQuestion } from './shaft.ts'

export const unlockStep: StepLogic = {
  id: 'unlock',
  title: 'Locking bar off',
  operatorDoes: 'Take the locking bar or clamp off the shaft and lay it on the bench.',
  rigDoes: 'Nothing: disarmed, terminals dead.',
  mayBeSkipped: false,
  next: state =>
    state.shaft.is === 'free'
      ? done('the bar is off')
      : ask(shaftFreeQuestion('unlock', state.shaft.is === 'locked')),
  durationSec: () => 0,
}
