import type { Command } from 'commander'
import { comparisonText } from '../../src/output/comparison-text.ts'
import { compareBatch } from '../quality/compare-batch.ts'
import { refitBatch, refitTerms } from '../quality/refit-batch.ts'
import type { Store } from '../store/store.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  usingStore,
  withResult,
} from './context.ts'
import {
  type JudgingOptions,
  ruleOf,
  type SubgroupOption,
  withDecisionRule,
  withSubgroup,
} from './judging-options.ts'

interface CompareOptions extends StoreOption, ResultOption, JudgingOptions, SubgroupOption {
  readonly batch: string
  readonly against: string
  readonly with?: string
  readonly refit?: boolean
}

export function addCompareCommand(program: Command, context: CommandContext): void {
  const compare = withResult(program.command('compare'))
    .description('judge a batch of production samples against the limits of a type')
    .requiredOption('--batch <name>', 'the batch')
    .requiredOption('--against <type>', 'the type')
  withSubgroup(withDecisionRule(compare))
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
          subgroupSize: options.subgroup ?? null,
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
    ...refitTerms(store, limits),
    report: ({ fraction, text }) => context.progress(fraction, text),
    signal: context.interrupted,
  })
  context.say(`${refitted} samples identified anew`)
  for (const { motor, text } of failed) context.say(`'${motor}' was not: ${text}`)
}
