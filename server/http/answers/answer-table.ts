import type { QuestionName, StoreQuestions } from '../ask-store.ts'
import type { Answers, Library } from './library.ts'
import { driveAnswers } from './drive-answers.ts'
import { heatAnswers } from './heat-answers.ts'
import { motorAnswers } from './motor-answers.ts'
import { sampleAnswers } from './sample-answers.ts'
import { sheetAnswers } from './sheet-answer.ts'
import { runAnswers } from './run-answers.ts'
import { studyAnswers } from './study-answers.ts'

const ANSWERS: Answers = {
  ...driveAnswers,
  ...heatAnswers,
  ...motorAnswers,
  ...runAnswers,
  ...sheetAnswers,
  ...sampleAnswers,
  ...studyAnswers,
}

export function answer<N extends QuestionName>(
  library: Library,
  name: N,
  input: StoreQuestions[N]['input'],
): StoreQuestions[N]['answer'] | Promise<StoreQuestions[N]['answer']> {
  return ANSWERS[name](library, input)
}
