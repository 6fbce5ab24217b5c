import { expect, test } from 'vitest'
import type { ClauseVerdict } from '../../server/check-rig/judge.ts'
import { verdictReport } from '../../server/check-rig/report.ts'

test('prints a verdict a clause, with the reason and the offending line where it is broken', () => {
  const verdicts: ClauseVerdict[] = [
    { clause: 'P-3.1', title: 'short lines', verdict: 'kept', text: '', evidence: null },
    {
      clause: 'P-3.3',
      title: 'checksums',
      verdict: 'broken',
      text: 'checksum 0000; the line as received has 29B1',
      evidence: '123456789*0000',
    },
    { clause: 'P-8.9', title: 'open', verdict: 'not-seen', text: 'takes a probe', evidence: null },
  ]
  expect(verdictReport(verdicts).split('\n')).toEqual([
    'kept      P-3.1   short lines',
    'BROKEN    P-3.3   checksums',
    '                  checksum 0000; the line as received has 29B1',
    '                  123456789*0000',
    'not seen  P-8.9   open: takes a probe',
    '',
    '1 clauses kept, 1 broken, 1 not seen',
  ])
})
