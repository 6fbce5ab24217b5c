import { spawn } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { setImmediate as turn } from 'node:timers/promises'
import { ReadlineParser } from '@serialport/parser-readline'
import { SerialPort } from 'serialport'
import type { Link } from '../../server/link/link.ts'
import { DEFAULT_BAUD, openSerialLink } from '../../server/link/serial-link.ts'
import { openRecorder } from '../../server/recorder/open-recorder.ts'
import type { RecordedRun } from '../../server/recorder/recorder.ts'
import { RigTalk } from '../../server/session/rig-talk.ts'
import { SampleIntake } from '../../server/session/sample-intake.ts'
import { openStore } from '../../server/store/open-store.ts'
import { Unwrapper } from '../../src/protocol/unwrap.ts'
import { median } from '../../src/statistics/robust.ts'
import { newRun } from '../support/sample-runs.ts'
import { CHANNELS, type LineForm, PERIOD_NS, type RigLines, rigLines } from './rig-lines.ts'
import { type SpeedRow, type Spent, spentOn } from './section.ts'

/** After one that does not count, in which the code is compiled: a logger runs for hours. */
const ROUNDS = 5
/** Without a port: as much as one read brings, and how many of them a busy loop handles in a turn. */
const PIECE_BYTES = 4096
const PIECES_A_TURN = 16
/** Room for all of it: what is lost because the rig is faster than the disk proves no speed. */
const QUEUE_BYTES = 1 << 28

/**
 * The whole serial path (read, split, decode, check, judge counters and times, store, compact) against
 * `ReadlineParser` cutting the same bytes into strings and nothing else: through a pseudo-terminal and the
 * serial port's binding, as they are used, and out of memory. What the goal is put to is the processor time
 * of the busiest thread, for other programs take no part in it; beside it stands what elapsed. The
 * middle one of the rounds counts on both sides.
 */
export async function measure(seed: number): Promise<SpeedRow[]> {
  const rows: SpeedRow[] = []
  for (const [form, lines] of [
    ['block', 40_000],
    ['decimal', 600_000],
  ] as const) {
    const stream = rigLines(form, lines, seed)
    const source = await startSource(form, lines, seed)
    const port = await compared(stream, () => cutPort(source.path, stream), source.open)
    const memory = await compared(stream, () => cutMemory(stream), inMemory(stream))
    source.end()
    rows.push(
      { ...port.busiest, what: `${form} lines, port to store`, goal: { least: 0.5 } },
      { ...port.elapsed, what: `${form} lines, port to store, elapsed` },
      { ...port.processor, what: `${form} lines, port to store, all threads` },
      { ...memory.busiest, what: `${form} lines, memory to store` },
    )
  }
  return rows
}

type Compared = Omit<SpeedRow, 'what'>

/** Alternating, so that whatever else the computer does meets both. */
async function compared(
  stream: RigLines,
  cut: () => Promise<Spent>,
  open: () => Promise<Link>,
): Promise<Record<'elapsed' | 'processor' | 'busiest', Compared>> {
  const [alone, path]: [Spent[], Spent[]] = [[], []]
  await cut()
  await logged(stream, open)
  for (let round = 0; round < ROUNDS; round++) {
    alone.push(await cut())
    path.push(await logged(stream, open))
  }
  const middle = (of: keyof Spent, unit: string): Compared => {
    const [bare, own] = [alone, path].map(all => median(all.map(spent => spent[of])))
    return {
      value: stream.lines / own!,
      unit,
      against: '@serialport/parser-readline alone',
      ratio: bare! / own!,
    }
  }
  return {
    elapsed: middle('elapsedSec', 'lines/s'),
    processor: middle('processorSec', 'lines/CPU s'),
    busiest: middle('busiestSec', 'lines/CPU s'),
  }
}

/** Lines that flow from another process whenever a port is opened and asks. */
async function startSource(form: LineForm, lines: number, seed: number) {
  const script = new URL('./line-source.ts', import.meta.url).pathname
  const child = spawn(
    process.execPath,
    [...process.execArgv, script, form, String(lines), String(seed)],
    { stdio: ['pipe', 'pipe', 'inherit'] },
  )
  const path = await new Promise<string>(resolve =>
    createInterface({ input: child.stdout }).once('line', resolve),
  )
  return {
    path,
    open: async () => {
      const link = await openSerialLink(path)
      await link.send(Uint8Array.of(10))
      return link
    },
    end: () => child.stdin.end(),
  }
}

/** What it takes until the parser alone has cut what a port brings. */
async function cutPort(path: string, { lines }: RigLines): Promise<Spent> {
  const port = new SerialPort({ path, baudRate: DEFAULT_BAUD, autoOpen: false })
  await new Promise<void>((resolve, reject) => port.open(e => (e ? reject(e) : resolve())))
  const parser = port.pipe(new ReadlineParser({ delimiter: '\n', encoding: 'latin1' }))
  const spent = await spentOn(
    () =>
      new Promise<void>(resolve => {
        let cut = 0
        parser.on('data', () => {
          if (++cut === lines) resolve()
        })
        port.write(Uint8Array.of(10))
      }),
  )
  await new Promise<void>(resolve => port.close(() => resolve()))
  return spent
}

async function cutMemory({ bytes, lines }: RigLines): Promise<Spent> {
  const parser = new ReadlineParser({ delimiter: '\n', encoding: 'latin1' })
  let cut = 0
  parser.on('data', () => cut++)
  const spent = await spentOn(async () => {
    for await (const piece of pieces(bytes)) parser.write(piece)
  })
  if (cut !== lines) throw new Error(`${cut} of ${lines} lines were cut`)
  return spent
}

/** What it takes until everything is in the store and the run is closed and compacted. */
async function logged(stream: RigLines, open: () => Promise<Link>): Promise<Spent> {
  const folder = mkdtempSync(join(tmpdir(), 'rotorfit-speed-'))
  const file = join(folder, 'store.rotorfit')
  const store = openStore(file, { now: Date.now })
  const motorId = store.motors.add({ name: 'M' }).id
  const recorder = await openRecorder({ file, queueLimitBytes: QUEUE_BYTES })
  try {
    const run = await recorder.beginRun(newRun(motorId))
    const spent = await spentOn(async () => record(await open(), stream.samples, run))
    const { sampleCount, losses } = store.runs.get(run.runId)
    if (sampleCount !== stream.samples || losses.length > 0) {
      throw new Error(`${sampleCount} of ${stream.samples} samples were stored`)
    }
    return spent
  } finally {
    await recorder.close()
    store.close()
    rmSync(folder, { recursive: true })
  }
}

async function record(link: Link, samples: number, run: RecordedRun): Promise<void> {
  const clock = new Unwrapper()
  const intake = new SampleIntake(CHANNELS, PERIOD_NS, us => clock.next(us), {
    lost: loss => run.lost(loss.link, 'link'),
    chunk: chunk => run.samples(chunk),
    seen: () => {},
    refused: reason => run.rejected('', reason),
  })
  const talk = await new Promise<RigTalk>((resolve, reject) => {
    const talking = new RigTalk(link, {
      samples: batch => {
        intake.take(batch)
        if (intake.samples === samples) resolve(talking)
      },
      upload: () => {},
      event: () => {},
      fault: ({ raw, fault }) => run.rejected(raw, fault.code),
      lost: reject,
    })
    talking.setLayout(CHANNELS, null)
  })
  await run.finish('complete', '', null)
  await talk.close()
}

function inMemory({ bytes }: RigLines): () => Promise<Link> {
  return async () => ({
    describe: 'recorded lines',
    bytes: () => pieces(bytes),
    send: async () => {},
    close: async () => {},
  })
}

/** In the pieces and turns in which a port that is never empty brings it. */
async function* pieces(bytes: Uint8Array): AsyncGenerator<Uint8Array> {
  for (let at = 0, n = 1; at < bytes.length; at += PIECE_BYTES, n++) {
    yield bytes.subarray(at, at + PIECE_BYTES)
    if (n % PIECES_A_TURN === 0) await turn()
  }
}
