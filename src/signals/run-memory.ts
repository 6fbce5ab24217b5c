import type { Quantity } from '../records/quantity.ts'
import type { TestRun } from '../records/test-run.ts'

type Zeros = Readonly<Partial<Record<Quantity, number>>>

/**
 * What was worked out of a run, kept as long as the run itself: runs never change, and screening, the analysis
 * of each test and the joint fit ask for the same. Runs are read with two or three sets of zeros at most.
 */
export class RunMemory<T> {
  readonly #kept = new WeakMap<TestRun, { readonly zeros: Zeros; readonly value: T }[]>()

  recall(run: TestRun, zeros: Zeros, workOut: () => T): T {
    const kept = this.#kept.get(run) ?? []
    const found = kept.find(known => areAlike(known.zeros, zeros))
    if (found) return found.value
    const value = workOut()
    this.#kept.set(run, [...kept, { zeros, value }])
    return value
  }
}

function areAlike(a: Zeros, b: Zeros): boolean {
  const names = new Set([...Object.keys(a), ...Object.keys(b)]) as Set<Quantity>
  return [...names].every(name => (a[name] ?? 0) === (b[name] ?? 0))
}
