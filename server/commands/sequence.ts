import type { Command } from 'commander'
import { InputFault, StoppedFault } from '../../src/base/faults.ts'
import { defaultAnswer, parseAnswer } from '../../src/procedure/answers.ts'
import { CAUTIONS } from '../../src/procedure/cautions.ts'
import type { Question } from '../../src/procedure/question.ts'
import type { SequenceView } from '../../src/procedure/sequence-view.ts'
import { CAUTIONS_QUESTION } from '../../src/procedure/steps/cautions.ts'
import { fitText } from '../../src/output/fit-text.ts'
import type { SequenceOutcome, SequenceRunner } from '../session/sequence-runner.ts'
import { startSequence } from '../session/start-sequence.ts'
import { connectToBench } from './bench-connection.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  makingStore,
  withResult,
} from './context.ts'
import { integerOption } from './parse-options.ts'

interface SequenceOptions extends StoreOption, ResultOption {
  readonly port: string
  readonly motor: string
  readonly resume?: boolean
  readonly yes?: boolean
  readonly baud?: number
  readonly motorFile?: string
}

export function addSequenceCommand(program: Command, context: CommandContext): void {
  withResult(program.command('sequence'))
    .description('the whole guided sequence: every test of a motor, then its identification')
    .requiredOption('--port <serial>', "the rig's serial port, or 'practice' for a simulated one")
    .requiredOption('--motor <name>', 'the motor; made where there is none of that name')
    .option('--resume', 'go on with the unfinished sequence of this motor')
    .option('--yes', 'answer every question by its suggestion; simulated rigs only')
    .option('--baud <rate>', 'of the serial port', integerOption(300, 12_000_000))
    .option('--motor-file <file.json>', 'the motor behind --port practice')
    .action((options: SequenceOptions) =>
      makingStore(context, options, async store => {
        const bench = await connectToBench(context, options, store)
        try {
          const { rig } = bench.session
          if (options.yes && !rig.simulated) {
            throw new InputFault(
              `--yes answers for somebody who looks at the shaft: it is refused on '${rig.model}', which does not declare itself simulated`,
            )
          }
          if (!options.yes && !context.interactive) {
            throw new InputFault(
              'the sequence asks questions; run it at a terminal, or with --yes on a simulated rig',
            )
          }
          const runner = startSequence({
            session: bench.session,
            store,
            motor: store.motors.ensure(options.motor),
            hands: bench.hands,
            now: Date.now,
            resume: options.resume === true,
            referenceTemperatureCelsius: 20,
          })
          const outcome = await attend(context, runner, options.yes === true)
          report(context, options, outcome)
        } finally {
          await bench.close()
        }
      }),
    )
}

/** How often a paused sequence on a simulated rig goes on by itself. */
const RETRIES_WITHOUT_OPERATOR = 3

/** Shows the sequence on a terminal and answers for the operator, or asks. */
export async function attend(
  context: CommandContext,
  runner: SequenceRunner,
  answersItself: boolean,
): Promise<SequenceOutcome> {
  let asked: string | null = null
  let shownStep: string | null = null
  let retriesLeft = RETRIES_WITHOUT_OPERATOR
  const onView = (view: SequenceView) => {
    if (view.current !== shownStep && view.phase !== 'finished') {
      shownStep = view.current
      const step = view.steps.find(each => each.id === view.current)
      context.say(`— ${step?.title ?? view.current}`)
    }
    const wait =
      view.waitLeftSec === null ? '' : ` (${Math.ceil(view.waitLeftSec)} s: ${view.waitWhy})`
    context.progress(Math.min(0.999, view.progress), `${view.rigDoes.split('. ')[0]}${wait}`)
    const now =
      view.phase === 'paused' ? `paused: ${view.pausedBecause}` : (view.question?.id ?? null)
    if (now === asked) return
    asked = now
    if (now === null) return
    if (view.phase === 'paused') void onPause(view)
    else if (view.question) void onQuestion(view.question)
  }
  const onQuestion = async (question: Question) => {
    if (answersItself) return runner.answer(question.id, defaultAnswer(question))
    if (question.id === CAUTIONS_QUESTION.id) {
      for (const caution of CAUTIONS) context.say(`${caution.title}\n    ${caution.text}`)
    }
    if (question.detail) context.say(question.detail)
    for (;;) {
      const answer = parseAnswer(question, await context.ask(`${question.text} ${hint(question)}`))
      if (asked !== question.id) return
      if (answer.ok) {
        asked = null
        return runner.answer(question.id, answer.value)
      }
      context.say(answer.error)
    }
  }
  const onPause = async (view: SequenceView) => {
    context.say(`paused: ${view.pausedBecause}`)
    if (answersItself) {
      // Nobody is there to look; a busy computer that was heard too late deserves another try.
      if (view.may.resume && retriesLeft-- > 0) return runner.act('resume')
      return runner.leave()
    }
    const choices = [
      ...(['resume', 'back', 'repeat', 'skip'] as const).filter(act => view.may[act]),
      'leave',
    ] as const
    for (;;) {
      const typed = (await context.ask(`${choices.join(', ')}? `)).trim()
      const act = choices.find(choice => choice === typed)
      if (!act) continue
      asked = null
      if (act === 'leave') return runner.leave()
      try {
        return await runner.act(act)
      } catch (error) {
        context.say((error as Error).message)
      }
    }
  }
  const unlisten = runner.listen(news => {
    if (news.type === 'view') onView(news.view)
    else if (news.type === 'told')
      context.say(news.tone === 'warning' ? `warning: ${news.text}` : news.text)
    else context.progress(news.fraction, news.text)
  })
  const unkey = context.onKey(() => {
    if (runner.view.phase === 'testing') void runner.stop('stopped by a key')
  })
  const onInterrupt = () => void runner.leave()
  context.interrupted.addEventListener('abort', onInterrupt, { once: true })
  try {
    return await runner.done
  } finally {
    context.interrupted.removeEventListener('abort', onInterrupt)
    unkey()
    unlisten()
  }
}

function hint(question: Question): string {
  const { form, suggested } = question
  const proposal = suggested === null || suggested === true ? '' : ` [${suggested}]`
  switch (form.kind) {
    case 'acknowledge':
      return `(type 'yes': ${form.label}) `
    case 'confirm':
      return `(yes: ${form.yes}; no: ${form.no}) `
    case 'choice':
      return `(${form.choices.map(choice => `${choice.value}: ${choice.label}`).join('; ')})${proposal} `
    case 'number':
      return `(${form.unit}, ${form.minimum} to ${form.maximum}${form.optional ? ', empty: not known' : ''})${proposal} `
    case 'text':
      return form.optional ? '(empty: none) ' : ''
    default:
      return form satisfies never
  }
}

function report(context: CommandContext, options: SequenceOptions, outcome: SequenceOutcome): void {
  const { fit } = outcome
  if (outcome.outcome === 'left' || fit === null) {
    throw new StoppedFault(`${outcome.text}; every run so far is kept, --resume goes on`)
  }
  printResult(
    context,
    options,
    { schema: 'sequence/1', motor: options.motor, runs: outcome.runIds, fit: fit.document },
    () => fitText(fit.document),
  )
}
