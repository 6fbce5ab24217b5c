import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, onTestFinished, test } from 'vitest'
import { openPseudoTerminal } from '../../server/link/pseudo-terminal.ts'
import { commandBench } from '../support/command-runner.ts'

const bench = commandBench()

/** A rig that prints `milliseconds volts millivolts-of-a-probe` a thousand times a second. */
function printingRig(): string {
  const terminal = openPseudoTerminal()
  let k = 0
  const timer = setInterval(() => {
    const rows = Array.from({ length: 10 }, () => `${k++} 12.01 ${100 + (k % 3)}\n`)
    terminal.write(new TextEncoder().encode(rows.join('')))
  }, 10)
  onTestFinished(() => {
    clearInterval(timer)
    terminal.close()
  })
  return terminal.path
}

const COLUMNS = 'time=#1:ms,voltage=#2:V,current=#3:mV/50'
const plain = (port: string, ...more: string[]) =>
  bench.run('log', '--plain', '--port', port, '--motor', 'M1', '--test', 'mixed', ...more)

test('logs a rig that only prints numbers, for the time asked', async () => {
  const { code, out } = await plain(
    printingRig(),
    '--columns',
    COLUMNS,
    '--duration',
    '0.5',
    '--json',
  )
  expect(code).toBe(0)
  const document = JSON.parse(out)
  expect(document).toMatchObject({ schema: 'log/1', motor: 'M1', ending: 'complete' })
  expect(document.counters.samples).toBeGreaterThan(200)
  const file = join(bench.folder, 'run.csv')
  expect(await bench.run('export', String(document.run), '--out', file)).toMatchObject({ code: 0 })
  const [header, first] = readFileSync(file, 'utf8').split('\n')
  expect(header).toMatch(/time \[s\].*voltage \[V\].*current \[A\]/)
  expect(first).toMatch(/^0,.*12\.01/)
})

test('says what exceeds the limit, which it cannot switch off', async () => {
  const limit = ['--columns', COLUMNS, '--duration', '0.3', '--current-limit', '1']
  const { code, err } = await plain(printingRig(), ...limit)
  expect(code).toBe(0)
  expect(err).toMatch(/above the limit of 1 A; this rig cannot be stopped from here/)
})

test.each([
  ['no columns', [], /--plain needs --columns, such as/],
  ['a name', ['--columns', 'time=t:s,current=#2:A'], /--columns: column 't'.*write #1, #2/],
  ['a wrong unit', ['--columns', 'current=#2:V'], /--columns: .*current cannot be in V/],
  ['a voltage', ['--columns', COLUMNS, '--voltage', '6'], /cannot be driven/],
])('refuses %s with one line and exit code 2', async (_, more, told) => {
  const { code, out, err } = await plain('/dev/null', ...more)
  expect(code).toBe(2)
  expect(out).toBe('')
  expect(err).toMatch(told)
})

test('a port that does not exist makes no run', async () => {
  const { code, err } = await plain('/dev/ttyNOWHERE', '--columns', COLUMNS)
  expect(code).toBe(2)
  expect(err).toMatch(/does not exist/)
})
