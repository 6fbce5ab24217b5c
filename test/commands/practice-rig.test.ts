import { lstatSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { runCommandLine } from '../../server/commands/command-line.ts'
import { openSerialLink } from '../../server/link/serial-link.ts'
import { connectTo } from '../support/bench-at-work.ts'
import { commandBench } from '../support/command-runner.ts'

const bench = commandBench()

test('hosts a rig until it is interrupted, and leaves nothing behind', async () => {
  const link = join(bench.folder, 'rig')
  const interrupt = new AbortController()
  let out = ''
  let isUp = () => {}
  const up = new Promise<void>(resolve => {
    isUp = resolve
  })
  const running = runCommandLine(['practice-rig', '--link', link, '--seed', '7'], {
    out: text => {
      out += text
      isUp()
    },
    say: () => {},
    progress: () => {},
    env: {},
    interactive: false,
    ask: () => Promise.reject(new Error('nobody to ask')),
    onKey: () => () => {},
    interrupted: interrupt.signal,
  })
  await up
  expect(out).toBe(`${link}\n`)
  const { session } = await connectTo(() => openSerialLink(link))
  expect(session.rig).toMatchObject({ simulated: true, serialNumber: 'P000007' })
  await session.close()
  interrupt.abort()
  expect(await running).toBe(3)
  expect(lstatSync(link, { throwIfNoEntry: false })).toBeUndefined()
})

test.each([
  ['a motor file that is not there', ['--motor-file', 'none.json'], /none.json: no such file/],
  ['troubles that are none', ['--troubles', 'rust=1'], /not something to do to a rig/],
])('refuses %s', async (_, options, told) => {
  const { code, out, err } = await bench.run('practice-rig', ...options)
  expect(code).toBe(2)
  expect(out).toBe('')
  expect(err).toMatch(told)
})
