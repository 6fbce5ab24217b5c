import type { SampleVerdict } from '../../quality/verdict.ts'

/** What stands out, then why something is undecided. */
export function wordsOf(sample: SampleVerdict): string {
  const open = sample.quantities
    .filter(q => q.verdict !== 'pass' && q.remark !== '' && !sample.warnings.includes(q.remark))
    .map(q => `${q.label}: ${q.remark}`)
  return [...sample.standsOut, ...open, ...sample.warnings].join('; ')
}
