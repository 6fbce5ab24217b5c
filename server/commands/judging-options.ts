import { type Command, InvalidArgumentError } from 'commander'
import type { DecisionRule } from '../../src/quality/conformity.ts'
import { SUBGROUP_SIZES } from '../../src/records/batch.ts'
import { integerOption, numberOption } from './parse-options.ts'

const RULES = ['simple', 'conformity', 'consumer-risk'] as const

/** How a verdict is reached, as every command takes it that judges. */
export interface JudgingOptions {
  readonly rule: DecisionRule['kind']
  readonly probability: number
  readonly risk: number
}

export interface SubgroupOption {
  readonly subgroup?: number
}

export const withDecisionRule = (command: Command): Command =>
  command
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

export const withSubgroup = (command: Command): Command =>
  command.option(
    '--subgroup <size>',
    'so many samples in a row were made or tested together: charts of their means and ranges',
    integerOption(SUBGROUP_SIZES.least, SUBGROUP_SIZES.most),
  )

export function ruleOf({ rule, probability, risk }: JudgingOptions): DecisionRule {
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

function ruleOption(text: string): DecisionRule['kind'] {
  const found = RULES.find(rule => rule === text)
  if (!found) throw new InvalidArgumentError(`needs one of ${RULES.join(', ')}`)
  return found
}
