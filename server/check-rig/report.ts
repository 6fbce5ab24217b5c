import type { ClauseVerdict, Verdict } from './judge.ts'

const MARK: Readonly<Record<Verdict, string>> = {
  kept: 'kept',
  broken: 'BROKEN',
  'not-seen': 'not seen',
}

/** One line a clause, the reason and the offending line indented below, and the count at the end. */
export function verdictReport(verdicts: readonly ClauseVerdict[]): string {
  const lines = verdicts.flatMap(({ clause, title, verdict, text, evidence }) => {
    const head = `${MARK[verdict].padEnd(8)}  ${clause.padEnd(6)}  ${title}`
    if (verdict === 'not-seen') return [`${head}: ${text}`]
    if (verdict === 'kept') return [head]
    const indent = ' '.repeat(18)
    return [head, `${indent}${text}`, ...(evidence === null ? [] : [`${indent}${evidence}`])]
  })
  const count = (verdict: Verdict) => verdicts.filter(v => v.verdict === verdict).length
  lines.push(
    '',
    `${count('kept')} clauses kept, ${count('broken')} broken, ${count('not-seen')} not seen`,
  )
  return lines.join('\n')
}
