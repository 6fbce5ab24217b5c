import { existsSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { commandBench } from '../support/command-runner.ts'

const { folder, run } = commandBench()

function recording(name: string, content: string): string {
  const file = join(folder, name)
  writeFileSync(file, content)
  return file
}

const ROWS =
  'time [s],voltage [V],current [A],speed [rad/s],bridge\n0,1.1,0.25,,drive\n0.001,1.2,0.5,3.3,drive\n0.0025,0,0,3.1,coast\n'

describe('import and export', () => {
  test('an exported run, imported again, is the same run', async () => {
    expect(
      (await run('import', recording('a.csv', ROWS), '--motor', 'first', '--test', 'mixed')).code,
    ).toBe(0)
    const once = join(folder, 'once.csv')
    expect((await run('export', '1', '--out', once)).code).toBe(0)
    expect((await run('import', once, '--motor', 'second', '--test', 'mixed')).code).toBe(0)
    const twice = join(folder, 'twice.csv')
    expect((await run('export', '2', '--out', twice)).code).toBe(0)
    expect(readFileSync(once, 'utf8')).toBe(ROWS)
    expect(readFileSync(twice, 'utf8')).toBe(ROWS)
  })

  test('an existing file is overwritten on request only', async () => {
    const file = join(folder, 'once.csv')
    const refused = await run('export', '1', '--out', file)
    expect(refused).toMatchObject({ code: 2, out: '' })
    expect(refused.err).toContain('--force overwrites it')
    expect((await run('export', '1', '--out', file, '--force')).code).toBe(0)
  })

  test('the JSON document stands alone on standard output', async () => {
    const { out, err } = await run(
      'import',
      recording('b.csv', ROWS),
      '--motor',
      'third',
      '--test',
      'mixed',
      '--json',
    )
    expect(JSON.parse(out)).toMatchObject({
      schema: 'import/1',
      motor: 'third',
      kind: 'mixed',
      rows: 3,
      dryRun: false,
    })
    expect(err).toContain('store: ')
  })

  test('a dry run shows the mapping and stores nothing', async () => {
    const file = recording('c.csv', 't;ch2\n0;100\n1;50\n')
    const { code, out } = await run(
      'import',
      file,
      '--motor',
      'none such',
      '--test',
      'zero',
      '--columns',
      'time=t:ms,current=ch2:mV/50',
      '--invert',
      'current',
      '--dry-run',
      '--json',
    )
    expect(code).toBe(0)
    expect(JSON.parse(out).columns[1]).toMatchObject({
      quantity: 'current',
      inverted: true,
      first: [-2, -1],
      lowest: -2,
      highest: -1,
    })
    expect((await run('motors')).out).not.toContain('none such')
  })

  test('rows without a time become samples as far apart as the preamble states, or as is said', async () => {
    const rows = Array.from({ length: 250 }, (_, i) => `${i % 9}`).join('\n')
    const bare = recording('bare.csv', `current [A]\n${rows}\n`)
    const words = ['--motor', 'scope', '--test', 'locked-rotor', '--json']
    const refused = await run('import', bare, ...words)
    expect(refused).toMatchObject({ code: 2, out: '' })
    expect(refused.err).toContain('say how far apart the rows were sampled with --interval <s>')
    const told = JSON.parse((await run('import', bare, ...words, '--interval', '0.002')).out)
    expect(told).toMatchObject({ rows: 250, intervalSec: 0.002, warnings: [] })
    const times = join(folder, 'times.csv')
    await run('export', String(told.runId), '--out', times)
    expect(readFileSync(times, 'utf8').split('\n').slice(0, 4)).toEqual([
      'time [s],current [A]',
      '0,0',
      '0.002,1',
      '0.004,2',
    ])
    const stated = recording('stated.csv', `Sample rate,1000,Hz\ncurrent [A]\n${rows}\n`)
    const found = await run('import', stated, ...words)
    expect(JSON.parse(found.out).intervalSec).toBe(0.001)
    expect(found.err).toContain("samples 0.001 s apart, as line 1 says ('Sample rate")
  })

  test('a decimal sign that the file does not tell is asked for, and taken as said', async () => {
    const file = recording('table.csv', 'voltage [V];speed [rad/s]\n12;1.500\n24;3.000\n')
    const words = [
      'import',
      file,
      '--motor',
      'grouped',
      '--test',
      'free-run',
      '--dry-run',
      '--json',
    ]
    expect((await run(...words)).err).toContain('--decimal comma for 1500')
    const told = await run(...words, '--decimal', 'comma')
    expect(JSON.parse(told.out).columns[1]).toMatchObject({ lowest: 1500, highest: 3000 })
    expect((await run(...words, '--decimal', 'dot')).err).toContain('needs point or comma')
  })

  test.each([
    ['O\'Neill / "2"', 0],
    ['motor 😀 é', 0],
    ['', 2],
    ['a\u0007b', 2],
    ['a\u001b[31mb', 2],
    ['x'.repeat(500), 2],
  ])('a motor named %j: exit code %d', async (name, code) => {
    const outcome = await run(
      'import',
      recording('d.csv', ROWS),
      '--motor',
      name,
      '--test',
      'mixed',
    )
    expect(outcome.code).toBe(code)
    expect(outcome.err).not.toContain('\u001b')
    if (code === 0) expect((await run('motors')).out).toContain(name)
    else expect(outcome.out).toBe('')
  })
})

describe('bad input: exit code 2, one line, nothing stored', () => {
  test.each([
    [
      'a text cell',
      ROWS.replace('0.5', 'abc'),
      [],
      "d.csv:3: column 'current [A]': 'abc' is not a number",
    ],
    ['no rows', ROWS.split('\n')[0]!, [], 'no rows of samples'],
    ['a unit that is not there', ROWS.replace('[A]', ''), [], "column 'current' has no unit"],
    [
      'a map that names no column',
      ROWS,
      ['--columns', 'current=ch9:A'],
      "needs a line with the columns 'ch9'",
    ],
    ['a map that cannot be read', ROWS, ['--columns', 'current'], 'write quantity=column:unit'],
    [
      'an inversion of what is not there',
      ROWS,
      ['--invert', 'torque'],
      '--invert torque: no such column',
    ],
  ])('%s', async (_, content, options, message) => {
    const motors = (await run('motors', '--json')).out
    const outcome = await run(
      'import',
      recording('d.csv', content),
      '--motor',
      'bad',
      '--test',
      'mixed',
      ...options,
    )
    expect(outcome).toMatchObject({ code: 2, out: '' })
    expect(outcome.err).toContain(message)
    expect(outcome.err).not.toMatch(/\n\s+at /)
    expect((await run('motors', '--json')).out).toBe(motors)
  })

  test.each([
    [['import', 'x.csv', '--motor', 'm', '--test', 'spin'], 'needs one of zero, locked-rotor'],
    [['import', 'none.csv', '--motor', 'm', '--test', 'zero'], 'none.csv: no such file'],
    [['fit', '--motor', 'nobody'], "no motor named 'nobody'"],
    [['export', '99', '--out', 'y.csv'], 'run'],
    [['runs', 'delete', '0'], 'needs a number from 1'],
    [['nonsense'], "unknown command 'nonsense'"],
  ])('%j', async (args, message) => {
    const outcome = await run(...args)
    expect(outcome).toMatchObject({ code: 2, out: '' })
    expect(outcome.err).toContain(message)
    expect(existsSync('y.csv')).toBe(false)
  })

  test('a store that is no store', async () => {
    const outcome = await run('motors', '--db', recording('notes.txt', 'shopping list'.repeat(100)))
    expect(outcome).toMatchObject({ code: 2, out: '' })
    expect(outcome.err).toContain('notes.txt')
  })
})

describe('what is in the store', () => {
  test('tag, rename, delete and restore a motor; delete and restore a run', async () => {
    await run('types', 'add', 'RX-12', '--maker', 'Invented Motors')
    await run('import', recording('e.csv', ROWS), '--motor', 'tagged', '--test', 'mixed')
    expect(
      (
        await run(
          'motors',
          'tag',
          'tagged',
          '--type',
          'RX-12',
          '--serial-number',
          'S 7',
          '--lot',
          'L1',
        )
      ).code,
    ).toBe(0)
    await run('motors', 'rename', 'tagged', 'renamed')
    const listed = (await run('motors', '--json', '--text', 'S 7')).out
    expect(JSON.parse(listed).motors).toMatchObject([{ name: 'renamed', lot: 'L1', runs: 1 }])
    const deleted = await run('motors', 'delete', 'renamed')
    expect((await run('motors')).out).not.toContain('renamed')
    const id = /restore (\d+)/.exec(deleted.err)![1]!
    expect((await run('motors', 'restore', id)).code).toBe(0)
    expect((await run('motors')).out).toContain('renamed')
    const runs = JSON.parse((await run('runs', '--motor', 'renamed', '--json')).out).runs
    await run('runs', 'delete', String(runs[0].id))
    expect(JSON.parse((await run('runs', '--motor', 'renamed', '--json')).out).runs).toEqual([])
    await run('runs', 'restore', String(runs[0].id))
    expect(JSON.parse((await run('runs', '--motor', 'renamed', '--json')).out).runs).toHaveLength(1)
  })

  test('a backup is a store', async () => {
    const copy = join(folder, 'copy.rotorfit')
    expect((await run('backup', copy)).code).toBe(0)
    expect((await run('backup', copy)).code).toBe(2)
    expect((await run('motors', '--db', copy)).out).toBe((await run('motors')).out)
  })

  test('help on everything', async () => {
    for (const command of [
      '',
      'import',
      'fit',
      'export',
      'types',
      'motors',
      'runs',
      'backup',
      'withstand',
    ]) {
      const { code, out } = await run(...command.split(' ').filter(Boolean), '--help')
      expect(code).toBe(0)
      expect(out).toContain('Usage: rotorfit')
    }
  })
})
