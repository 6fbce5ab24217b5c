import { seededUniform } from '../base/random.ts'

/** Who measures what how often in a crossed study. */
export interface GaugePlan {
  readonly study: string
  readonly operators: readonly string[]
  readonly parts: readonly string[]
  readonly trials: number
}

export interface GaugeCell {
  readonly part: string
  readonly operator: string
  /** From 1. */
  readonly trial: number
  readonly isDone: boolean
}

/**
 * The measurements of a study in the order in which they are to be made: trial after trial and operator after
 * operator, the parts shuffled anew each time, so that neither drift nor memory falls on one part. Common
 * practice, no source. The study's name is the seed: everybody who opens it sees the same order.
 */
export function gaugeOrder(
  plan: GaugePlan,
  done: readonly { readonly part: string; readonly operator: string }[],
): GaugeCell[] {
  const uniform = seededUniform(seedOf(plan.study))
  const left = new Map<string, number>()
  const key = (part: string, operator: string) => `${part}\n${operator}`
  for (const { part, operator } of done) {
    left.set(key(part, operator), (left.get(key(part, operator)) ?? 0) + 1)
  }
  return Array.from({ length: plan.trials }, (_, t) => t + 1).flatMap(trial =>
    plan.operators.flatMap(operator =>
      shuffled(plan.parts, uniform).map(part => {
        const count = left.get(key(part, operator)) ?? 0
        left.set(key(part, operator), count - 1)
        return { part, operator, trial, isDone: count > 0 }
      }),
    ),
  )
}

/** Fisher and Yates. */
function shuffled<T>(items: readonly T[], uniform: () => number): T[] {
  const all = [...items]
  for (let i = all.length - 1; i > 0; i--) {
    const j = Math.floor(uniform() * (i + 1))
    const held = all[i]!
    all[i] = all[j]!
    all[j] = held
  }
  return all
}

const seedOf = (text: string): number =>
  [...text].reduce((hash, letter) => (Math.imul(hash, 31) + letter.codePointAt(0)!) | 0, 7)
