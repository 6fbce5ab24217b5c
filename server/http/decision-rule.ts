import type { RuleQuery } from '../../src/contract/http-samples.ts'
import type { DecisionRule } from '../../src/quality/conformity.ts'

/** The decision rule that a request names, with the usual level where it gives none. */
export function decisionRule({ rule, level }: Pick<RuleQuery, 'rule' | 'level'>): DecisionRule {
  switch (rule) {
    case 'simple':
      return { kind: 'simple' }
    case 'conformity':
      return { kind: 'conformity', probability: level ?? 0.95 }
    case 'consumer-risk':
      return { kind: 'consumer-risk', risk: level ?? 0.05 }
    default:
      return rule satisfies never
  }
}
