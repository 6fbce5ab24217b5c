import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { importJob } from '../../server/jobs/import-job.ts'
import { parseColumnMap } from '../../src/contract/csv-columns.ts'
import { expectRelative } from '../support/expect-relative.ts'

const folder = mkdtempSync(join(tmpdir(), 'rotorfit-import-job-'))
afterAll(() => rmSync(folder, { recursive: true }))

/** What an import would make of a file, without a store. */
function look(content: string, map: string) {
  const file = join(folder, 'bench.csv')
  writeFileSync(file, content)
  const choices = parseColumnMap(map)
  if (!choices.ok) throw new Error(choices.error)
  return importJob(
    { file, source: 'bench.csv', choices: choices.value, invert: [], into: null },
    () => {},
  )
}

describe('a position in counts', () => {
  const TURN = 2 * Math.PI
  const rows = (full: number, aRow: number) =>
    Array.from({ length: 3000 }, (_, i) => `${i};${(i * aRow) % full}`).join('\n')

  test('a full counter of other than a turn is counted on, and that is said', async () => {
    const { columns, warnings } = await look(
      `t;cnt\n${rows(65_536, 113)}\n`,
      'time=t:ms,position=cnt:rev/2000',
    )
    expectRelative(columns[1]!.highest!, ((2999 * 113) / 2000) * TURN, 1e-9)
    expect(warnings).toEqual([
      'the position is a counter that starts again after 65536 counts: it was counted on',
    ])
  })

  test('counts that start again at the index mark go by the turn', async () => {
    const { columns, warnings } = await look(
      `t;cnt\n${rows(4000, 300)}\n`,
      'time=t:ms,position=cnt:rev/4000',
    )
    expectRelative(columns[1]!.highest!, ((2999 * 300) / 4000) * TURN, 1e-9)
    expect(warnings).toEqual([
      'the position starts again after each turn: it was counted on over the turns',
    ])
  })

  test('any other is left as it is, and that is said', async () => {
    const { columns, warnings } = await look(
      `t;cnt\n${rows(10_000, 113)}\n`,
      'time=t:ms,position=cnt:rev/2000',
    )
    expect(columns[1]!.highest).toBeLessThan(5 * TURN)
    expect(warnings).toHaveLength(1)
    expect(warnings[0]).toContain('the position falls back by about 10000 (as its cells count)')
  })
})
