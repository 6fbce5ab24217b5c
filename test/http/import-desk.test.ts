import { join } from 'node:path'
import { Readable } from 'node:stream'
import { afterAll, expect, test } from 'vitest'
import { createImportDesk } from '../../server/http/import-desk.ts'
import { importJob } from '../../server/jobs/import-job.ts'

const desk = createImportDesk({
  storeFile: join('nowhere', 'store.rotorfit'),
  maxBytes: 1e9,
  tryOut: importJob,
})
afterAll(() => desk.close())

/** Larger than what is read through for a preview. */
const large = (head: string, row: string) =>
  Readable.from(
    (function* () {
      yield head
      const piece = row.repeat(10_000)
      for (let bytes = 0; bytes < 30e6; bytes += piece.length) yield piece
    })(),
  )

test('a large file is not read through, but what its first rows tell or leave open is said', async () => {
  const stated = await desk.receive(
    'large.csv',
    large('Sample rate;1000;Hz\nvoltage [V];current [A]\n', '12,5;1.500\n'),
  )
  expect(stated).toMatchObject({ rowCount: null, trouble: null })
  expect(stated.remarks).toEqual([expect.stringContaining('samples 0.001 s apart, as line 1 says')])
  const open = await desk.receive('open.csv', large('voltage [V];current [A]\n', '12;1.500\n'))
  expect(open.trouble).toContain("open.csv:2: column 'current [A]': '1.500' may be 1.5 or 1500")
  const told = await desk.look(open.id, { decimal: 'comma', intervalSec: 0.001 })
  expect(told).toMatchObject({ rowCount: null, trouble: null, remarks: [] })
})

test('what is said of a file is kept when it is stored', async () => {
  const { id } = await desk.receive(
    'table.csv',
    Readable.from(['voltage [V];current [A]\n12;1.500\n24;3.000\n']),
  )
  await desk.look(id, { decimal: 'point', intervalSec: 0.5 })
  const { input } = desk.accept(id, { motor: 'm', kind: 'mixed' })
  expect(input).toMatchObject({ decimal: 'point', intervalSec: 0.5 })
})

test.each([
  ['a number of two readings', 'voltage [V];current [A]\n12;1.500\n', "'Decimal sign: comma'"],
  ['no header', '1,2,3\n4,5,6\n', 'in the table of columns'],
  [
    'a duty',
    'time [s],voltage [%]\n0,50\n0.001,51\n',
    "the unit 'V/2.0833' for the column of the voltage",
  ],
])(
  'the page speaks of its own fields, not of options of the command: %s',
  async (_, text, field) => {
    const { trouble } = await desk.receive('foreign.csv', Readable.from([text]))
    expect(trouble).toContain(field)
    expect(trouble).not.toContain('--')
  },
)
