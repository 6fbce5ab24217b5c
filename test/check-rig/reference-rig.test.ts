import { type ChildProcess, execFileSync, spawn } from 'node:child_process'
import { mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import { fileURLToPath } from 'node:url'
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest'
import { seededUniform } from '../../src/base/random.ts'
import { HostReader } from '../../src/protocol/host-reader.ts'
import { CheckLine } from '../../server/check-rig/check-line.ts'
import { checkRig } from '../../server/check-rig/check-rig.ts'
import { realClock } from '../../server/check-rig/real-clock.ts'
import { declared } from '../../server/check-rig/rig-under-check.ts'
import type { Link } from '../../server/link/link.ts'
import { openSerialLink } from '../../server/link/serial-link.ts'
import { mutant } from '../support/mutant.ts'
import { asBytes, pageExamples } from '../support/protocol-page.ts'

const FOLDER = fileURLToPath(new URL('../../datasets/reference-rig/', import.meta.url))
const WARNINGS = ['-std=c99', '-Wall', '-Wextra', '-Werror', '-pedantic', '-O2']

const hasCompiler = (() => {
  if (process.platform === 'win32') return false
  try {
    execFileSync('cc', ['--version'], { stdio: 'ignore' })
    return true
  } catch {
    return false
  }
})()

/** Where it cannot be built the report says why. */
const NAME = `the reference rig in C${hasCompiler ? '' : ': this system has no compiler called cc'}`

describe.runIf(hasCompiler)(NAME, () => {
  const folder = mkdtempSync(join(tmpdir(), 'reference-rig-'))
  const program = join(folder, 'reference-rig')
  const running: ChildProcess[] = []
  const open: Link[] = []

  beforeAll(() => {
    const sources = readdirSync(FOLDER).filter(name => name.endsWith('.c'))
    const build = (extra: readonly string[]) =>
      execFileSync(
        'cc',
        [...WARNINGS, ...extra, '-o', program, ...sources, 'posix/main.c', '-lm'],
        {
          cwd: FOLDER,
          stdio: 'pipe',
        },
      )
    try {
      build(['-fsanitize=address,undefined', '-fno-sanitize-recover=all', '-g'])
    } catch {
      build([]) // this compiler has no sanitizers; a warning fails here as well
    }
  })

  afterEach(async () => {
    for (const link of open.splice(0)) await link.close()
    for (const child of running.splice(0)) child.kill()
  })

  afterAll(() => rmSync(folder, { recursive: true }))

  async function start(): Promise<string> {
    const child = spawn(program, { stdio: ['ignore', 'pipe', 'inherit'] })
    running.push(child)
    return new Promise((resolve, reject) => {
      child.stdout.once('data', path => resolve(String(path).trim()))
      child.once('exit', code => reject(new Error(`the reference rig ended with ${code}`)))
    })
  }

  async function connect(path: string): Promise<Link> {
    const link = await openSerialLink(path, 115_200)
    open.push(link)
    return link
  }

  test('passes check-rig through a pseudo-terminal, driving its simulated motor', async () => {
    const link = await connect(await start())
    const verdicts = await checkRig(link, { drive: true })
    expect(verdicts.filter(v => v.verdict === 'broken')).toEqual([])
    expect(verdicts.filter(v => v.verdict === 'kept').length).toBeGreaterThan(60)
  })

  // P-10.5 P-10.2
  test('lives on when its port is closed and opened again', async () => {
    const path = await start()
    const before = await connect(path)
    const first = new CheckLine(before, realClock())
    await first.sendRaw('\nnonsense\n')
    const answer = await first.ask('alive')
    await first.end()
    await before.close()
    await sleep(300)
    const second = new CheckLine(await connect(path), realClock())
    await second.sendRaw('\n')
    const later = await second.ask('status')
    expect(declared(later!, 'status')[0]!.status).toMatchObject({ badLines: 1, armed: false })
    const [from, to] = [answer!.answer, later!.answer]
    if (from.kind !== 'ok' || to.kind !== 'ok') throw new Error('refused')
    const passedMs = ((to.timeUs - from.timeUs) | 0) / 1000
    expect(passedMs).toBeGreaterThan(290)
    expect(passedMs).toBeLessThan(5000)
    await second.end()
  })

  // P-6.7 P-7.6 P-8.4
  test('counts what it drops while nobody reads, and its watchdog bites', async () => {
    const path = await start()
    const link = await connect(path)
    const line = new CheckLine(link, realClock())
    await line.ask('sampling period-ns=100000 format=block channels=7')
    await line.ask('stream mode=on')
    await line.ask('arm')
    await line.ask(
      'drive mode=voltage voltage-mv=2000 duration-ms=9000 current-ma=8000 after=coast',
    )
    await line.end()
    await sleep(1500)
    const again = new CheckLine(link, realClock())
    const off = await again.ask('stream mode=off')
    const status = await again.ask('status')
    await again.end()
    expect(declared(status!, 'status')[0]!.status).toMatchObject({
      armed: false,
      bridge: 'coast',
      lastTrip: 'watchdog',
    })
    expect(off!.answer).toMatchObject({ kind: 'ok' })
  })

  // P-3.7
  test('counts exactly the damaged lines that the codec here counts, and survives them', async () => {
    const uniform = seededUniform(21)
    const lines = pageExamples()
      .filter(e => e.from === 'host')
      .map(e => asBytes([e.line], ''))
    const link = await connect(await start())
    const line = new CheckLine(link, realClock())
    let expected = 0
    const codec = new HostReader({
      request: () => {},
      wrong: () => {},
      unreadable: () => expected++,
    })
    for (let batch = 0; batch < 100; batch++) {
      const bytes = Buffer.concat(
        Array.from({ length: 40 }, () => {
          const pick = lines[Math.floor(uniform() * lines.length)]!
          return Buffer.concat([mutant(pick, uniform), Uint8Array.of(10)])
        }),
      )
      codec.push(bytes)
      await link.send(bytes)
      await line.pause(5)
    }
    const status = await line.ask('status')
    await line.end()
    expect(expected).toBeGreaterThan(1000)
    expect(declared(status!, 'status')[0]!.status.badLines).toBe(expected)
    // Nobody agreed on channels here, so samples that a damaged line set going cannot be read.
    const faults = line.lines.filter(
      ({ content }) => content.kind === 'fault' && content.fault.code !== 'no-layout',
    )
    expect(faults).toEqual([])
  })
})
