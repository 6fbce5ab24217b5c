import { createReadStream, createWriteStream, mkdtempSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { finished } from 'node:stream/promises'
import { ReadlineParser } from '@serialport/parser-readline'
import { runJob } from '../../server/jobs/run-job.ts'
import { openStore } from '../../server/store/open-store.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { seededUniform } from '../../src/base/random.ts'
import { type SpeedRow, spentOn } from './section.ts'

const ROWS = 1e7
const ROWS_A_PIECE = 10_000
/** What all of it takes as numbers: four columns of eight bytes. */
const NUMBERS_MB = (ROWS * 4 * 8) / 1e6

/** A recording of ten million rows in decimal commas behind a preamble, through the import's own worker. */
export async function measure(seed: number): Promise<SpeedRow[]> {
  const folder = mkdtempSync(join(tmpdir(), 'rotorfit-speed-'))
  try {
    const file = join(folder, 'long.csv')
    await writeRecording(file, seed)
    const storeFile = join(folder, 'store.rotorfit')
    openStore(storeFile, { now: Date.now }).close()
    const cut = await spentOn(() => cutOnly(file))
    const before = process.memoryUsage().rss / 1e6
    let peak = before
    let reports = 0
    const watch = setInterval(() => {
      peak = Math.max(peak, process.memoryUsage().rss / 1e6)
    }, 50)
    const taken = await spentOn(async () => {
      const into = {
        storeFile,
        motor: 'M',
        kind: 'free-run',
        conditions: UNKNOWN_CONDITIONS,
      } as const
      const { rows } = await runJob(
        'import',
        { file, source: 'long.csv', choices: null, invert: [], into },
        { onReport: () => reports++ },
      )
      if (rows !== ROWS) throw new Error(`${rows} of ${ROWS} rows came in`)
    })
    clearInterval(watch)
    if (reports < 100) throw new Error(`progress was told ${reports} times only`)
    return [
      {
        what: `${ROWS.toExponential()} rows of ${(statSync(file).size / ROWS).toFixed(0)} bytes imported, progress told ${reports} times`,
        value: ROWS / taken.processorSec,
        unit: 'rows/CPU s',
        against: 'cutting the file into lines alone',
        ratio: cut.processorSec / taken.processorSec,
      },
      {
        what: 'memory that it took at most',
        value: peak - before,
        unit: 'MB',
        against: `${NUMBERS_MB} MB of its numbers`,
        ratio: (peak - before) / NUMBERS_MB,
        goal: { most: 1 },
      },
    ]
  } finally {
    rmSync(folder, { recursive: true })
  }
}

async function writeRecording(file: string, seed: number): Promise<void> {
  const uniform = seededUniform(seed)
  const out = createWriteStream(file)
  out.write('Bench 4;afternoon\n\ntime [s];voltage [V];current [A];speed [rad/s]\n')
  const comma = (value: number, digits: number) => value.toFixed(digits).replace('.', ',')
  for (let first = 0; first < ROWS; first += ROWS_A_PIECE) {
    let text = ''
    for (let row = first; row < first + ROWS_A_PIECE; row++) {
      const speed = 300 * Math.sin(row / 1e5) + uniform()
      text += `${comma(row / 10_000, 4)};${comma(12 + uniform() / 100, 3)};${comma(uniform(), 4)};${comma(speed, 2)}\n`
    }
    if (!out.write(text)) await new Promise<void>(resolve => out.once('drain', resolve))
  }
  out.end()
  await finished(out)
}

async function cutOnly(file: string): Promise<void> {
  const parser = new ReadlineParser({ delimiter: '\n', encoding: 'latin1' })
  let lines = 0
  parser.on('data', () => lines++)
  createReadStream(file).pipe(parser)
  await finished(parser)
  if (lines < ROWS) throw new Error(`${lines} lines were cut`)
}
