import { CLAUSES } from './clauses.ts'

export type Verdict = 'kept' | 'broken' | 'not-seen'

export interface ClauseVerdict {
  readonly clause: string
  readonly title: string
  readonly verdict: Verdict
  /** Why broken or not seen, for a person; empty where kept. */
  readonly text: string
  /** The first line that showed it, safe to print; null where no single line does. */
  readonly evidence: string | null
}

/** Collects what the checks find. One finding against a clause outweighs any number for it. */
export class Judge {
  private readonly found = new Map<string, { text: string; evidence: string | null } | null>()

  kept(clause: string): void {
    this.known(clause)
    if (!this.found.has(clause)) this.found.set(clause, null)
  }

  broken(clause: string, text: string, evidence: string | null): void {
    this.known(clause)
    if (!this.found.get(clause)) this.found.set(clause, { text, evidence })
  }

  /** `text` says what is wrong where `good` is false. */
  expect(clause: string, good: boolean, text: string, evidence: string | null): void {
    if (good) this.kept(clause)
    else this.broken(clause, text, evidence)
  }

  get broke(): string[] {
    return [...this.found].flatMap(([clause, finding]) => (finding === null ? [] : [clause]))
  }

  /** Takes over what another found. `remark` is added to what it found broken. */
  absorb(other: Judge, remark: string): void {
    for (const [clause, finding] of other.found) {
      if (finding === null) this.kept(clause)
      else this.broken(clause, finding.text + remark, finding.evidence)
    }
  }

  /** One verdict a clause, in the order of the page. `missed` says why a clause was not tried. */
  verdicts(missed: string): ClauseVerdict[] {
    return CLAUSES.map(({ clause, title, unseen }) => {
      const finding = this.found.get(clause)
      if (finding === undefined) {
        return { clause, title, verdict: 'not-seen', text: unseen ?? missed, evidence: null }
      }
      if (finding === null) return { clause, title, verdict: 'kept', text: '', evidence: null }
      return { clause, title, verdict: 'broken', ...finding }
    })
  }

  private known(clause: string): void {
    if (!SEEABLE.has(clause)) {
      throw new RangeError(`clause = ${clause}; must be one that can be seen`)
    }
  }
}

const SEEABLE = new Set(CLAUSES.filter(c => c.unseen === null).map(c => c.clause))
