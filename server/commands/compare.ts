import type { Command } from 'commander'
import { InvalidArgumentError } from 'commander'
import { comparisonText } from '../../src/output/comparison-text.ts'
import type { DecisionRule } from '../../src/quality/conformity.ts'
import { compareBatch } from '../quality/compare-batch.ts'
import { refitBatch } from '../quality/refit-batch.ts'
import type { Store } from '../store/store.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  usingStore,
  withResult,
} from './context.ts'
import { numberOption } from './parse-options.ts'

const RULES = ['simple', 'conformity', 'consumer-risk'] as const

interface CompareOptions extends StoreOption, ResultOption {
  readonly batch: string
  readonly against: string
  readonly rule: DecisionRule['kind']
  readonly probability: number
  readonly risk: number
  readonly with?: string
  readonly refit?: boolean
}

export function addCompareCommand(program: Command, context: CommandContext): void {
  withResult(program.command('compare'))
    .description('judge a batch of production samples against the limits of a type')
    .requiredOption('--batch <name>', 'the batch')
    .requiredOption('--against <type>', 'the type')
    .option(
      '--rule <name>',
      `how a verdict is reached: ${RULES.join(', ')}`,
      ruleOption,
      'conformity',
    )
    .option(
      '--probability <p>',
      'conformity asked for by the rule conformity',
      numberOption(0.5, 0.9999),
      0.95,
    )
    .option(
      '--risk <p>',
      "the consumer's risk allowed by the rule consumer-risk",
      numberOption(0.0001, 0.5),
      0.05,
    )
    .option('--with <batch>', 'compare the means with those of another batch')
    .option('--refit', 'identify every sample anew from its recordings first, on all cores')
    .action((options: CompareOptions) =>
      usingStore(context, options, async store => {
        if (options.refit) await refit(context, options, store)
        const comparison = compareBatch(store, {
          batch: options.batch,
          type: options.against,
          rule: ruleOf(options),
          otherBatch: options.with ?? null,
          at: new Date().toISOString(),
        })
        printResult(context, options, comparison, () => comparisonText(comparison))
      }),
    )
}

async function refit(
  context: CommandContext,
  options: CompareOptions,
  store: Store,
): Promise<void> {
  const limits = store.limits.current(store.types.named(options.against).id)
  const { refitted, failed } = await refitBatch(store, options.batch, {
    referenceTemperatureCelsius: limits?.referenceTemperatureCelsius ?? 20,
    report: ({ fraction, text }) => context.progress(fraction, text),
    signal: context.interrupted,
  })
  context.say(`${refitted} samples identified anew`)
  for (const { motor, text } of failed) context.say(`'${motor}' was not: ${text}`)
}

function ruleOption(text: string): DecisionRule['kind'] {
  const found = RULES.find(rule => rule === text)
  if (!found) throw new InvalidArgumentError(`needs one of ${RULES.join(', ')}`)
  return found
}

function ruleOf({ rule, probability, risk }: CompareOptions): DecisionRule {
  switch (rule) {
    case 'simple':
      return { kind: 'simple' }
    case 'conformity':
      return { kind: 'conformity', probability }
    case 'consumer-risk':
      return { kind: 'consumer-risk', risk }
    default:
      return rule satisfies never
  }
}
