import { MessageChannel } from 'node:worker_threads'
import { describe, expect, onTestFinished, test } from 'vitest'
import { LinkLost } from '../../server/link/faults.ts'
import type { Link } from '../../server/link/link.ts'
import { MessageLink, MessageWire } from '../../server/link/message-link.ts'
import { openPseudoTerminal } from '../../server/link/pseudo-terminal.ts'
import { replayBytes } from '../../server/link/replay-link.ts'
import { openSerialLink } from '../../server/link/serial-link.ts'
import type { Wire } from '../../server/link/wire.ts'
import { seededUniform } from '../../src/base/random.ts'

/** A link, and the far end of it for the test to hold. */
interface Bench {
  readonly link: Link
  readonly far: Pick<Wire, 'write' | 'close'>
  /** What the far end has heard. */
  heard(): Uint8Array
}

interface Kind {
  readonly name: string
  readonly open: () => Promise<Bench>
}

function ears(wire: Wire): () => Uint8Array {
  const chunks: Uint8Array[] = []
  wire.onBytes(bytes => chunks.push(bytes.slice()))
  return () => Buffer.concat(chunks)
}

async function serialOverPty(): Promise<Bench> {
  const far = openPseudoTerminal()
  onTestFinished(() => far.close())
  const heard = ears(far)
  return { link: await openSerialLink(far.path, 115_200), far, heard }
}

async function inProcess(): Promise<Bench> {
  const { port1, port2 } = new MessageChannel()
  const far = new MessageWire(port2)
  onTestFinished(() => far.close())
  const heard = ears(far)
  return { link: new MessageLink('practice rig', port1), far, heard }
}

/** Plays what the far end "wrote" before the first read; then the recording ends. */
async function replay(): Promise<Bench> {
  const written: Uint8Array[] = []
  let link: ReturnType<typeof replayBytes> | null = null
  let isCut = false
  const whole = () => (link ??= replayBytes(Buffer.concat(written), 777))
  return {
    link: {
      describe: 'recorded bytes',
      async *bytes(signal) {
        while (!isCut && written.length === 0 && !signal.aborted) await tick()
        yield* whole().bytes(signal)
      },
      send: bytes => whole().send(bytes),
      close: async () => {
        isCut = true
        await whole().close()
      },
    },
    far: {
      write: bytes => written.push(bytes),
      close: () => {
        isCut = true
      },
    },
    heard: () => Buffer.concat(whole().sent),
  }
}

const tick = () => new Promise(resolve => setTimeout(resolve, 2))

async function until(what: () => boolean): Promise<void> {
  while (!what()) await tick()
}

/** Reads so many bytes, or until the link ends. */
async function read(link: Link, bytes: number): Promise<Buffer> {
  const abort = new AbortController()
  const chunks: Uint8Array[] = []
  let size = 0
  for await (const chunk of link.bytes(abort.signal)) {
    chunks.push(chunk.slice())
    size += chunk.length
    if (size >= bytes) break
  }
  return Buffer.concat(chunks)
}

const uniform = seededUniform(11)
const anyBytes = (length: number) => Uint8Array.from({ length }, () => Math.floor(256 * uniform()))

const KINDS: readonly Kind[] = [
  { name: 'serial port over a pseudo-terminal', open: serialOverPty },
  { name: 'in-process', open: inProcess },
  { name: 'replay', open: replay },
]

describe.each(KINDS)('a link: $name', ({ open }) => {
  test('brings every byte value in order, in any sizes', async () => {
    const { link, far } = await open()
    const bytes = anyBytes(200_000)
    for (let at = 0; at < bytes.length; at += 9001) far.write(bytes.subarray(at, at + 9001))
    expect((await read(link, bytes.length)).equals(Buffer.from(bytes))).toBe(true)
    await link.close()
  })

  test('sends every byte value in order', async () => {
    const { link, heard } = await open()
    const bytes = anyBytes(3000)
    await link.send(bytes.subarray(0, 1000))
    await link.send(bytes.subarray(1000))
    await until(() => heard().length >= bytes.length)
    expect(Buffer.from(heard()).equals(Buffer.from(bytes))).toBe(true)
    await link.close()
  })

  test('stops reading when the signal aborts, without an error, and closes', async () => {
    const { link, far } = await open()
    const abort = new AbortController()
    const reading = (async () => {
      for await (const _ of link.bytes(abort.signal)) abort.abort()
    })()
    far.write(anyBytes(10))
    await expect(reading).resolves.toBeUndefined()
    await link.close()
  })

  test('tells that the other side has gone, after everything that came before', async () => {
    const { link, far } = await open()
    far.write(anyBytes(100))
    // A device that goes takes what nobody has read with it, so that is read first.
    const early = await read(link, 100)
    expect(early).toHaveLength(100)
    far.close()
    await expect(read(link, 1)).rejects.toBeInstanceOf(LinkLost)
    await link.close()
  })

  test('closes twice, sends nothing afterwards, and reads nothing more', async () => {
    const { link } = await open()
    await link.close()
    await link.close()
    await expect(link.send(anyBytes(1))).rejects.toBeInstanceOf(LinkLost)
    expect(await read(link, 1)).toHaveLength(0)
  })

  test('has a name', async () => {
    const { link } = await open()
    expect(link.describe).toMatch(/\S/)
    await link.close()
  })
})
