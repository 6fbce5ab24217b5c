import { expect, test } from 'vitest'
import { replayBytes } from '../../server/link/replay-link.ts'
import { connectBench } from '../../server/session/connect.ts'
import { procedureFacts } from '../../server/session/rig-facts.ts'
import { InputFault } from '../../src/base/faults.ts'
import { ByteQueue } from '../../server/link/byte-queue.ts'
import { connectTo } from '../support/bench-at-work.ts'
import { FakeHardware } from '../support/fake-hardware.ts'
import { LiveFakeRig } from '../support/live-fake-rig.ts'

const connect = (open: Parameters<typeof connectBench>[0]['open'], signal?: AbortSignal) =>
  connectBench({ open, recorder: null, ...(signal && { signal }) })

/** Something at the other end that says the same line every 20 ms, whatever it is asked. */
const chatterer = (text: string) => async () => {
  const queue = new ByteQueue()
  const timer = setInterval(() => queue.push(new TextEncoder().encode(text)), 20)
  return {
    describe: '/dev/ttyTEST',
    bytes: (signal: AbortSignal) => queue.read(signal),
    send: async () => {},
    close: async () => {
      clearInterval(timer)
      queue.end(null)
    },
  }
}

// P-10.2
test('waits out a board that resets when its port is opened, and starts it from rest', async () => {
  const fake = new LiveFakeRig(new FakeHardware(), { bootSec: 1.2 })
  const { session, events } = await connectTo(() => fake.open())
  expect(session.rig).toMatchObject({ model: 'bench of the tests', serialNumber: 'T-1' })
  expect(session.state).toBe('ready')
  expect(fake.heard.startsWith('\n')).toBe(true)
  expect(fake.heard).toMatch(/ identify.* disarm.* stream mode=off/s)
  expect(events.map(event => event.type === 'link' && event.state)).toEqual(['connecting', 'ready'])
})

test('finds a rig that was left streaming and armed, and puts it at rest', async () => {
  const fake = new LiveFakeRig()
  const first = await connectTo(() => fake.open())
  await first.session.monitor(10_000)
  fake.cut()
  const { session } = await connectTo(() => fake.open())
  expect(session.counters.linesRejected).toBe(0)
  expect(fake.rig.stream.on).toBe(false)
  expect(fake.rig.armed).toBe(false)
})

// P-5.6
test('plans nothing at a rate that the line does not carry', async () => {
  const hardware = new FakeHardware()
  hardware.identity = { ...hardware.identity, baud: 115_200 }
  const { session } = await connectTo(() => new LiveFakeRig(hardware).open())
  expect(session.rig.ratesHz).toEqual([20, 1000])
  expect(procedureFacts(session.rig, null).ratesHz).toEqual([20, 1000])
})

test('knows channels, rates and limits in SI', async () => {
  const fake = new LiveFakeRig()
  const { session } = await connectTo(() => fake.open())
  expect(session.rig.channels.map(c => [c.name, c.quantity, c.scale])).toEqual([
    ['volts', 'voltage', 0.001],
    ['amps', 'current', 0.001],
    ['encoder', 'position', 0.001],
  ])
  expect(session.rig.ratesHz).toEqual([20, 1000, 10_000])
  expect(session.rig.limits).toMatchObject({ driveVolt: 24, currentAmp: 12, stallSec: 1 })
})

test('finds the rig in what a boot loader prints and in the middle of somebody else’s line', async () => {
  const fake = new LiveFakeRig(new FakeHardware(), { bootSec: 0.4 })
  const opening = connectTo(() => fake.open())
  setTimeout(() => fake.inject('boot v2.1\r\nflash ok\r\nrunning app\u0000\u00ff'), 50)
  const { session } = await opening
  expect(session.rig.model).toBe('bench of the tests')
  expect(session.counters.linesRejected).toBe(0)
})

const strangers: [what: string, line: string, told: RegExp][] = [
  [
    'something that talks',
    'login:\u001b[2J ',
    /not a rig, or the baud rate is wrong: seen was 'login:\\x1B/,
  ],
  ['a rig that only prints numbers', '0.015,11.98,1.234\n', /prints numbers only.*log --plain/],
]
test.concurrent.each(strangers)(
  'names %s and shows what was seen, terminal-safe',
  async (_, line, told) => {
    const failure = await connect(chatterer(line)).catch((error: Error) => error)
    expect(failure).toBeInstanceOf(InputFault)
    expect((failure as Error).message).toMatch(told)
    expect((failure as Error).message).not.toContain('\u001b')
  },
)

test.concurrent('says so when nothing answers', async () => {
  await expect(connect(chatterer(''))).rejects.toThrow(/nothing answered at .* within 5 s/)
})

test('gives up at once when the link goes or the operator does', async () => {
  await expect(connect(async () => replayBytes(new Uint8Array(10)))).rejects.toThrow(/ends here/)
  const abort = new AbortController()
  setTimeout(() => abort.abort(new Error('enough')), 50)
  await expect(connect(chatterer('x'), abort.signal)).rejects.toThrow('enough')
})

// P-13.1
test('refuses a rig that speaks another version of the protocol', async () => {
  const hardware = new FakeHardware()
  hardware.identity = { ...hardware.identity, protocolVersion: 2 }
  const fake = new LiveFakeRig(hardware)
  await expect(connect(() => fake.open())).rejects.toThrow(
    /version 2; this program speaks version 1/,
  )
})
