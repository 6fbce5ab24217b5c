import { contextOf } from '../bench-answers.ts'
import { done, type StepLogic } from '../need.ts'
import { planZero } from '../plan-zero.ts'
import { lastTest } from '../sequence-state.ts'

export const zeroStep: StepLogic = {
  id: 'zero',
  title: 'Zero',
  operatorDoes: 'Nothing: leave the bench alone, the shaft at rest.',
  rigDoes: 'Bridge off; logs the offsets and the noise of every channel.',
  mayBeSkipped: true,
  next(state) {
    if (lastTest(state, 'zero', 'zero')) return done('offsets and noise logged')
    return {
      type: 'test',
      tag: 'zero',
      role: 'measure',
      title: 'zero of every channel',
      planned: planZero(contextOf(state), state.settings.zeroSec),
    }
  },
  durationSec: state => state.settings.zeroSec,
}
