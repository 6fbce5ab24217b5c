import { readdirSync, readlinkSync } from 'node:fs'
import { expect, test } from 'vitest'
import { openPseudoTerminal } from '../../server/link/pseudo-terminal.ts'
import { openSerialLink } from '../../server/link/serial-link.ts'

const pause = (ms: number) => new Promise(resolve => setTimeout(resolve, ms))

test('never blocks who writes to it, though nobody reads', async () => {
  const terminal = openPseudoTerminal()
  const started = performance.now()
  for (let k = 0; k < 100; k++) terminal.write(new Uint8Array(10_000))
  await pause(30)
  expect(performance.now() - started).toBeLessThan(1000)
  expect(terminal.backlogBytes).toBeGreaterThan(500_000)
  terminal.close()
})

test('the backlog goes to whoever opens the port, to the last byte', async () => {
  const terminal = openPseudoTerminal()
  const link = await openSerialLink(terminal.path)
  const sent = 300_000
  terminal.write(new Uint8Array(sent).fill(0x41))
  let came = 0
  for await (const chunk of link.bytes(new AbortController().signal)) {
    came += chunk.length
    if (came >= sent) break
  }
  expect(came).toBe(sent)
  expect(terminal.backlogBytes).toBe(0)
  await link.close()
  terminal.close()
})

test('neither echoes nor rewrites line ends, and can be opened again', async () => {
  const terminal = openPseudoTerminal()
  const heard: Uint8Array[] = []
  terminal.onBytes(bytes => heard.push(bytes.slice()))
  for (const word of ['one\n', 'two\r\n\u0003\u0004\u0011\u0013']) {
    const link = await openSerialLink(terminal.path)
    terminal.write(Buffer.from('from the rig\n'))
    await link.send(Buffer.from(word))
    await pause(30)
    await link.close()
  }
  expect(Buffer.concat(heard).toString()).toBe('one\ntwo\r\n\u0003\u0004\u0011\u0013')
  terminal.close()
})

test.runIf(process.platform === 'linux')('leaves no descriptor behind', async () => {
  const open = () =>
    readdirSync('/proc/self/fd').filter(descriptor => {
      try {
        return /ptmx|pts/.test(readlinkSync(`/proc/self/fd/${descriptor}`))
      } catch {
        return false
      }
    }).length
  const before = open()
  for (let k = 0; k < 5; k++) openPseudoTerminal().close()
  await pause(50)
  expect(open()).toBe(before)
})
