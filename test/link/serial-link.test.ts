import { spawn } from 'node:child_process'
import { chmodSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { expect, onTestFinished, test } from 'vitest'
import { LinkLost } from '../../server/link/faults.ts'
import { explainOpenFailure } from '../../server/link/port-fault.ts'
import { openPseudoTerminal } from '../../server/link/pseudo-terminal.ts'
import { openSerialLink } from '../../server/link/serial-link.ts'
import { InputFault } from '../../src/base/faults.ts'
import { scratchFolder } from '../support/scratch-store.ts'

const refusals: [what: string, path: string, baud: number, told: RegExp][] = [
  ['a port that does not exist', '/dev/ttyNOWHERE9', 115_200, /ttyNOWHERE9 does not exist/],
  ['escapes in its name', '/dev/\u001b[2Jx', 115_200, /\/dev\/\\x1b\[2Jx does not exist/],
  ['a file', new URL(import.meta.url).pathname, 115_200, /is not a serial port/],
  ['a folder', '/tmp', 115_200, /is not a serial port/],
  ['a baud rate of 0', '/dev/ttyS0', 0, /baud rate 0 is not possible; .* from 300 to 12000000/],
  ['a broken baud rate', '/dev/ttyS0', 1.5, /baud rate 1.5 is not possible/],
]
test.each(refusals)('refuses %s in one clear line', async (_, path, baud, told) => {
  const failure = await openSerialLink(path, baud).catch((error: Error) => error)
  expect(failure).toBeInstanceOf(InputFault)
  expect((failure as Error).message).toMatch(told)
  expect((failure as Error).message).not.toMatch(/\n|\u001b/)
})

test('says that a port is in use', async () => {
  const terminal = openPseudoTerminal()
  onTestFinished(() => terminal.close())
  const first = await openSerialLink(terminal.path)
  await expect(openSerialLink(terminal.path)).rejects.toThrow(/is in use by another program/)
  await first.close()
  await (await openSerialLink(terminal.path)).close()
})

// Common practice, no source: dialout on Debian, uucp on Arch, plugdev elsewhere own serial devices.
test.runIf(process.platform === 'linux')(
  'names the group whose members may open a port',
  async () => {
    const path = join(scratchFolder(), 'ttyUSB0')
    writeFileSync(path, '')
    chmodSync(path, 0o660)
    const denied = new Error(`Error: Permission denied, cannot open ${path}`)
    const { message } = await explainOpenFailure(path, 115_200, denied)
    const own = statSync(path).gid === 0
    expect(message).toMatch(own ? /ask for the permission/ : /belongs to the group .*usermod -aG/)
    const tty = statSync('/dev/ttyS0', { throwIfNoEntry: false })
    if (tty && (tty.mode & 0o060) === 0o060 && tty.gid !== 0) {
      const { message: known } = await explainOpenFailure('/dev/ttyS0', 115_200, denied)
      expect(known).toMatch(
        /group \w+: run 'sudo usermod -aG \w+ \$USER', then log out and in again/,
      )
    }
  },
)

const causes: [cause: string, told: RegExp][] = [
  ['Error Resource temporarily unavailable Cannot lock port', /in use/],
  ['Opening COM3: Access denied', /in use/],
  ['Opening COM9: File not found', /does not exist/],
  ['Error: Inappropriate ioctl for device setting custom baud rate of 7', /not a serial port/],
  ['Error: Invalid argument setting custom baud rate of 31250', /does not accept 31250 baud/],
  ['Error: Unknown error code 31', /could not be opened: Unknown error code 31/],
]
test.each(causes)('reads the driver’s %s', async (cause, told) => {
  expect((await explainOpenFailure('COM3', 31_250, new Error(cause))).message).toMatch(told)
})

/**
 * A peer that vanishes while its bytes are being read can leave the binding retrying for ever. It does
 * so in some of all cases when the thread was busy at that moment: several peers are let vanish.
 */
test('notices devices that vanish in mid-read, within half a second, and stops burning the core', async () => {
  for (let trial = 0; trial < 3; trial++) await letVanish()
})

async function letVanish(): Promise<void> {
  const peer = spawn(process.execPath, ['--input-type=module', '-e', PEER], {
    cwd: new URL('../..', import.meta.url),
    stdio: ['ignore', 'pipe', 'inherit'],
  })
  onTestFinished(() => {
    peer.kill('SIGKILL')
  })
  const path = await new Promise<string>(resolve =>
    createInterface({ input: peer.stdout }).once('line', resolve),
  )
  const link = await openSerialLink(path)
  const reading = (async () => {
    for await (const _ of link.bytes(new AbortController().signal)) busy(0.3)
  })()
  const lost = expect(reading).rejects.toBeInstanceOf(LinkLost)
  await pause(200)
  peer.kill('SIGKILL')
  busy(300)
  const gone = performance.now()
  await lost
  expect(performance.now() - gone).toBeLessThan(600)
  const before = process.cpuUsage()
  await pause(200)
  const { user, system } = process.cpuUsage(before)
  expect((user + system) / 1000).toBeLessThan(120)
  await link.close()
}

const pause = (ms: number) => new Promise(resolve => setTimeout(resolve, ms))

function busy(ms: number): void {
  const end = performance.now() + ms
  while (performance.now() < end);
}

const PEER = `
import pty from 'node-pty'
const { master, slave, ptsName } = pty.open({ encoding: null })
slave.setRawMode(true)
slave.destroy()
master.on('error', () => {})
console.log(ptsName)
setInterval(() => master.write(Buffer.alloc(900, 65)), 3)
`
