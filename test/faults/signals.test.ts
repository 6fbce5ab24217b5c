import { spawn } from 'node:child_process'
import { createRequire } from 'node:module'
import { expect, onTestFinished, test } from 'vitest'
import { startRig } from '../support/bench-at-work.ts'
import { IN_REAL_TIME } from '../support/plans.ts'
import { scratchFile, scratchStore } from '../support/scratch-store.ts'
import { type TappedRig, tapRig } from '../support/tapped-rig.ts'

/** The program as a process of its own on a rig behind a pseudo-terminal, stopped from outside. */

const HOST_STOP_SEC = 0.1
const DRIVEN_SEC = 0.5

const MAIN = new URL('../../server/main.ts', import.meta.url).pathname

interface LoggedByProcess {
  readonly tap: TappedRig
  readonly file: string
  readonly arguments: readonly string[]
}

async function longTest(): Promise<LoggedByProcess> {
  const tap = await tapRig(await startRig())
  const file = scratchFile()
  const words = `log --port ${tap.path} --motor M --test free-run --voltage 6 --duration 30 --db`
  return { tap, file, arguments: ['--import', 'tsx', MAIN, ...words.split(' '), file] }
}

const driving = ({ bridge, passedUs }: TappedRig): boolean =>
  bridge.at(-1)?.mode === 'drive' && passedUs - bridge.at(-1)!.timeUs > DRIVEN_SEC * 1e6

const untilDriven = (tap: TappedRig) =>
  expect.poll(() => driving(tap), { timeout: 20_000, interval: 5 }).toBe(true)

/** Newest sample that had passed when somebody said stop → bridge off, both by the rig's clock. */
function expectStopped({ tap, file }: LoggedByProcess, stoppedUs: number): void {
  expect(tap.bridge.map(({ mode }) => mode)).toEqual(['drive', 'coast'])
  const off = tap.bridge.at(-1)!
  expect((off.timeUs - stoppedUs) / 1e6).toBeLessThan(HOST_STOP_SEC)
  const store = scratchStore(file)
  const [run] = store.runs.list()
  expect(run).toMatchObject({ ending: 'stopped', losses: [], rejectedLines: 0 })
  // Everything up to the end of the bridge's work is kept.
  const { edges } = store.runs.diary(run!.id)
  expect(edges.map(edge => edge.state)).toEqual(['drive', 'coast'])
  expect(run!.sampleCount / run!.rateHz!).toBeGreaterThan(edges[1]!.timeSec)
}

test.each(['SIGINT', 'SIGTERM', 'SIGHUP'] as const)(
  '%s to the process opens the bridge within 100 ms, and the run is closed and kept',
  IN_REAL_TIME,
  async signal => {
    const logged = await longTest()
    const host = spawn(process.execPath, logged.arguments, { stdio: ['ignore', 'ignore', 'pipe'] })
    onTestFinished(() => {
      host.kill('SIGKILL')
    })
    let said = ''
    host.stderr.on('data', (text: Buffer) => {
      said += text.toString()
    })
    const ended = new Promise<number | null>(resolve => host.on('close', resolve))
    await untilDriven(logged.tap)
    const stoppedUs = logged.tap.passedUs
    host.kill(signal)
    expect(await ended, said).toBe(3)
    expect(said).toContain('stopped by a signal')
    expectStopped(logged, stoppedUs)
  },
)

/** The part of node-pty that starts a program at a terminal; its typings need a whole configuration. */
interface TerminalMaker {
  spawn(
    program: string,
    args: readonly string[],
    options: { cols: number },
  ): {
    onData(listener: (text: string) => void): void
    onExit(listener: (exit: { exitCode: number }) => void): void
    write(text: string): void
    kill(signal: string): void
  }
}

test.each([
  ['a key', ' ', 'stopped by a key'],
  ['Ctrl-C', '\u0003', 'stopped by a signal'],
])(
  '%s at a real terminal opens the bridge within 100 ms, and the run is closed and kept',
  IN_REAL_TIME,
  async (_, key, told) => {
    const logged = await longTest()
    const terminals = createRequire(import.meta.url)('node-pty') as TerminalMaker
    const host = terminals.spawn(process.execPath, logged.arguments, { cols: 200 })
    let shown = ''
    host.onData(text => {
      shown += text
    })
    let code: number | null = null
    host.onExit(({ exitCode }) => {
      code = exitCode
    })
    onTestFinished(() => {
      if (code === null) host.kill('SIGKILL')
    })
    await untilDriven(logged.tap)
    const stoppedUs = logged.tap.passedUs
    host.write(key)
    await expect.poll(() => code, { timeout: 10_000 }).not.toBeNull()
    expect(code, shown).toBe(3)
    expect(shown).toContain(told)
    expectStopped(logged, stoppedUs)
  },
)
