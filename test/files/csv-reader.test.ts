import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { afterAll, describe, expect, test } from 'vitest'
import { InputFault } from '../../src/base/faults.ts'
import { parseColumnMap } from '../../src/contract/csv-columns.ts'
import {
  type CsvReadOptions,
  DEFAULT_CSV_READ_OPTIONS,
  openCsvRecording,
} from '../../server/files/csv-reader.ts'
import { expectRelative } from '../support/expect-relative.ts'

const folder = mkdtempSync(join(tmpdir(), 'rotorfit-csv-'))
afterAll(() => rmSync(folder, { recursive: true }))

async function read(content: string | Uint8Array, options: Partial<CsvReadOptions> = {}) {
  const file = join(folder, 'recording.csv')
  writeFileSync(file, content)
  const recording = await openCsvRecording(file, { ...DEFAULT_CSV_READ_OPTIONS, ...options })
  const columns = recording.layout.columns.map(() => [] as number[])
  let batches = 0
  for await (const batch of recording.batches()) {
    batches++
    for (const [i, column] of batch.columns.entries()) columns[i]!.push(...column)
  }
  return { ...recording, columns, batches }
}

const map = (text: string) => {
  const choices = parseColumnMap(text)
  if (!choices.ok) throw new Error(choices.error)
  return choices.value
}

describe('reads what people write', () => {
  test('RFC 4180: quoted cells, CRLF, a byte-order mark', async () => {
    const { columns } = await read('\ufeff"time [ms]","current [mA]"\r\n0,"1500"\r\n1,\r\n')
    expect(columns).toEqual([
      [0, 0.001],
      [1.5, Number.NaN],
    ])
  })

  test('a preamble, semicolons and decimal commas', async () => {
    const { columns, shape, writing } = await read(
      'Recorder 7\nmade "on 1.2.\n\ntime [s];voltage [V]\n0,5;1,25\n0,6;1,5\n',
    )
    expect(columns).toEqual([
      [0.5, 0.6],
      [1.25, 1.5],
    ])
    expect(shape).toMatchObject({ delimiter: ';', linesBeforeData: 4 })
    expect(writing).toBe('comma')
  })

  test('units in a row of their own below the names, as oscilloscopes write them', async () => {
    const file = 'Time;Channel A;Channel B\n(ms);(V);(mV)\n\n0,5;1,25;200\n1,0;1,5;-50\n'
    const { columns, layout } = await read(file, {
      choices: map('time=Time,voltage=Channel A,current=Channel B:mV/100'),
    })
    expect(columns).toEqual([
      [0.0005, 0.001],
      [1.25, 1.5],
      [2, -0.5],
    ])
    expect(layout.columns.map(c => c.unit)).toEqual(['ms', 'V', 'mV/100'])
    const own = await read('time,speed,note\ns,rpm,\n0,60,\n1,120,a\n')
    expectRelative(own.columns[1]![1]!, 4 * Math.PI, 1e-12)
  })

  test('units in parentheses; a name may hold some of its own', async () => {
    const { columns, layout } = await read(
      'time (ms),current (A),voltage (probe 1) [V]\n1,2,3\n2,2,3\n',
      {
        choices: map('time=time,current=current,voltage=voltage (probe 1)'),
      },
    )
    expect(columns).toEqual([
      [0.001, 0.002],
      [2, 2],
      [3, 3],
    ])
    expect(layout.columns.map(c => c.unit)).toEqual(['ms', 'A', 'V'])
  })

  test('tabs, a foreign header and a map by hand', async () => {
    const { columns } = await read('t\tch2\n0\t100\n1\t50\n', {
      choices: map('time=t:ms,current=ch2:mV/50'),
    })
    expect(columns).toEqual([
      [0, 0.001],
      [2, 1],
    ])
  })

  test('no header at all, columns by number', async () => {
    const { columns } = await read('0;1,5\n1;2,5\n', { choices: map('time=#1:s,current=#2:A') })
    expect(columns).toEqual([
      [0, 1],
      [1.5, 2.5],
    ])
  })

  test('thousands grouped by points beside decimal commas', async () => {
    const { columns } = await read('voltage [V];speed [rad/s]\n6,0;900\n12,5;1.500\n24;3.758,5\n')
    expect(columns[1]).toEqual([900, 1500, 3758.5])
  })

  test('thousands grouped by commas, between semicolons and in quotes', async () => {
    const rows = [
      [12.5, 24],
      [1500, 3000],
    ]
    expect((await read('voltage [V];speed [rad/s]\n12.5;1,500\n24;3,000\n')).columns).toEqual(rows)
    expect((await read('voltage [V],speed [rad/s]\n12.5,"1,500"\n24,"3,000.0"\n')).columns).toEqual(
      rows,
    )
  })

  test('a decimal sign that is said where the file does not tell', async () => {
    const table = 'voltage [V];speed [rad/s]\n12;1.500\n24;3.000\n'
    expect((await read(table, { decimal: 'comma' })).columns[1]).toEqual([1500, 3000])
    expect((await read(table, { decimal: 'point' })).columns[1]).toEqual([1.5, 3])
  })

  test('rows without a time are samples as far apart as is said, or as the preamble states', async () => {
    const rows = '1\n'.repeat(300)
    const told = await read(`current [A]\n${rows}`, { intervalSec: 0.002 })
    expect(told).toMatchObject({ intervalSec: 0.002, remarks: [] })
    expect(told.columns[0]).toHaveLength(300)
    const preamble = 'Model,Q 3\nSample Interval,1.0E-03,s\n'
    expect(await read(`${preamble}current [A],x\n1,2\n2,3\n`)).toMatchObject({
      intervalSec: 1e-3,
      remarks: [expect.stringContaining('as line 2 says')],
    })
    expect(await read(`${preamble}current [A],x\n1,2\n2,3\n`, { intervalSec: 0.5 })).toMatchObject({
      intervalSec: 0.5,
      remarks: [],
    })
    expect(await read(`${preamble}time [s],current [A]\n1,2\n2,3\n`)).toMatchObject({
      intervalSec: null,
      remarks: [],
    })
  })

  test('clock times in even steps serve as the time, over midnight too', async () => {
    const { columns, layout, remarks } = await read(
      'current [A],Timestamp\n1,23:59:59.500\n2,23:59:59.750\n3,00:00:00.000\n4,00:00:00.250\n',
    )
    expect(columns).toEqual([
      [0.5, 0.75, 1, 1.25],
      [1, 2, 3, 4],
    ])
    expect(layout.ignored).toEqual([])
    expect(remarks).toEqual([
      "column 'Timestamp' holds clock times in steps of 0.25 s: taken as the time, from its first row on",
    ])
    const called = await read('time;current [A]\n14:03:22,5;1,5\n14:03:23,0;2,5\n')
    expect(called.columns[0]).toEqual([0.5, 1])
  })

  test('clock times that do not rise evenly are left out, and why is said', async () => {
    const rows = 'time,current [A]\n14:03:22,1\n14:03:22,2\n14:03:23,3\n'
    const { layout, remarks } = await read(rows)
    expect(layout.columns.map(c => c.quantity)).toEqual(['current'])
    expect(layout.ignored).toEqual(['time (clock)'])
    expect(remarks).toEqual([
      "column 'time' was not taken as the time: it does not rise (from '14:03:22' to '14:03:22')",
    ])
    const chosen = await read(rows, { choices: map('time=time,current=current') })
    expect(chosen.columns[0]).toEqual([0, 0, 1])
    const spelled = await read('t,current [A]\n14:03:22,1\n14:03:29,3\n', {
      choices: map('time=t:clock,current=current'),
    })
    expect(spelled.columns[0]).toEqual([0, 7])
    await expect(read(rows + '14:03:24,3\n'.repeat(200))).rejects.toThrow(
      "no time (column 'time' was not taken as the time: it does not rise",
    )
  })

  test('two hundred rows without a time are steady readings', async () => {
    const { columns, intervalSec } = await read(`current [A]\n${'1\n'.repeat(200)}`)
    expect(columns[0]).toHaveLength(200)
    expect(intervalSec).toBeNull()
  })

  test('the words of the bridge column, an inverted channel, batches', async () => {
    const { columns, batches } = await read(
      'time [s],current [A],bridge\n0,1,drive\n1,2,coast\n2,3,brake\n3,4,\n',
      { invert: new Set(['current']), batchRows: 3 },
    )
    expect(columns).toEqual([
      [0, 1, 2, 3],
      [-1, -2, -3, -4],
      [0, 1, 2, 255],
    ])
    expect(batches).toBe(2)
  })

  test('gzip', async () => {
    const { columns } = await read(gzipSync('current [A]\n1\n2\n'))
    expect(columns).toEqual([[1, 2]])
  })
})

describe('refuses with file, line and what would be right', () => {
  test.each([
    [
      'a text cell',
      'time [s],current [A]\n0,1\n0.1,abc\n',
      "recording.csv:3: column 'current [A]': 'abc' is not a number",
    ],
    [
      'a missing unit',
      'time,current [A]\n0,1\n',
      "recording.csv:1: column 'time' has no unit; write e.g. 'time [s]'",
    ],
    [
      'time running backwards',
      'time [s],current [A]\n0,1\n1,1\n0.5,1\n',
      'recording.csv:4: time runs backwards (0.5 s after 1 s)',
    ],
    ['a missing time', 'time [s],current [A]\n0,1\n,1\n', 'recording.csv:3: the time is missing'],
    ['no rows', 'time [s],current [A]\n', 'recording.csv: no rows of samples after line 1'],
    ['an empty file', '', 'recording.csv is empty'],
    [
      'a short row',
      'time [s],current [A]\n0\n',
      "recording.csv:2: 1 cells, but column 'current [A]' is number 2",
    ],
    [
      'an open quote',
      'time [s],current [A]\n0,"1\n',
      'recording.csv:2: a quoted cell begins and never ends',
    ],
    ['no header', 'a,b\n1,2\n', 'no header found'],
    [
      'a word for the bridge',
      'current [A],bridge\n1,open\n',
      "'open' is no state of the bridge; write drive, coast or brake",
    ],
    ['binary data', 'a\u0000b', 'is not text'],
    ['infinity', 'current [A]\n1e999\n', "'1e999' is not a number"],
    [
      'numbers that may be read in two ways',
      'Bench 4\nvoltage [V];speed [rpm]\n12;900\n24;1,500\n',
      "recording.csv:4: column 'speed [rpm]': '1,500' may be 1.5 or 1500, and nothing else in the file tells which; say --decimal comma for 1.5, --decimal point for 1500",
    ],
    [
      'a point that groups nothing in a file of decimal commas',
      'voltage [V];speed [rpm]\n6,5;900\n12,5;12.75\n',
      "recording.csv:3: column 'speed [rpm]': '12.75' has a point, but the decimal sign of the file is the comma; write '12,75', or say --decimal point if it is not",
    ],
    [
      'a first sign after the rows that were looked at',
      `voltage [V];speed [rpm]\n${'1;2\n'.repeat(20_000)}1;1.500\n`,
      "recording.csv:20002: column 'speed [rpm]': '1.500' may be 1.5 or 1500",
    ],
    [
      'a long table without a time',
      `current [A]\n${'1\n'.repeat(201)}`,
      'recording.csv: more than 200 rows and no time: no table of steady readings is that long; say how far apart the rows were sampled with --interval <s>',
    ],
    ['terminal escapes', 'current [A]\n\u001b[2J\n', "'\ufffd[2J' is not a number"],
  ])('%s', async (_, content, message) => {
    const failed = await read(content).then(
      () => null,
      (error: unknown) => error,
    )
    expect(failed).toBeInstanceOf(InputFault)
    expect((failed as Error).message).toContain(message)
    expect((failed as Error).message).not.toContain('\n')
  })

  test('an interval beside a time column', async () => {
    await expect(read('time [s],current [A]\n0,1\n1,1\n', { intervalSec: 1 })).rejects.toThrow(
      'recording.csv: has a time column; leave out --interval',
    )
  })

  test('a file that is not there', async () => {
    await expect(
      openCsvRecording(join(folder, 'none.csv'), DEFAULT_CSV_READ_OPTIONS),
    ).rejects.toThrow('none.csv: no such file')
  })

  test('a gzip file that unpacks to more than it may', async () => {
    const bomb = gzipSync(`current [A]\n${'1\n'.repeat(200_000)}`)
    await expect(read(bomb, { maxUnpackedBytes: 100_000 })).rejects.toThrow('unpacks to more than')
  })

  test('a damaged gzip file', async () => {
    const damaged = gzipSync(`current [A]\n${'1.234\n'.repeat(1000)}`)
    damaged.fill(0x55, 20, 60)
    await expect(read(damaged)).rejects.toThrow('damaged gzip data')
  })
})
