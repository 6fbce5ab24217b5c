import type { StepLogic } from '../need.ts'
import type { StepId } from '../step.ts'
import { cautionsStep } from './cautions.ts'
import { firstSpinStep } from './first-spin.ts'
import { identifyStep } from './identify.ts'
import { lockedRotorStep } from './locked-rotor.ts'
import { questionsStep } from './questions.ts'
import { recheckStep } from './recheck.ts'
import { soakStep } from './soak.ts'
import { coastDownStep, freeRunStep, runUpStep } from './turning.ts'
import { unlockStep } from './unlock.ts'
import { zeroStep } from './zero.ts'

export const STEPS: Readonly<Record<StepId, StepLogic>> = {
  cautions: cautionsStep,
  questions: questionsStep,
  zero: zeroStep,
  soak: soakStep,
  'first-spin': firstSpinStep,
  'locked-rotor': lockedRotorStep,
  unlock: unlockStep,
  'free-run': freeRunStep,
  'run-up': runUpStep,
  'coast-down': coastDownStep,
  recheck: recheckStep,
  identify: identifyStep,
}
