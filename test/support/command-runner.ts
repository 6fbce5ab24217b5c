import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll } from 'vitest'
import { runCommandLine } from '../../server/commands/command-line.ts'
import type { CommandContext } from '../../server/commands/context.ts'

export interface CommandOutcome {
  readonly code: number
  readonly out: string
  readonly err: string
}

/** A folder of its own with a store in it, and a way to run commands on it as a terminal would. */
export function commandBench(): {
  folder: string
  db: string
  run: (...args: string[]) => Promise<CommandOutcome>
  /** With somebody at the terminal, or something in the pipe. */
  runWith: (changes: Partial<CommandContext>, ...args: string[]) => Promise<CommandOutcome>
} {
  const folder = mkdtempSync(join(tmpdir(), 'rotorfit-command-'))
  const db = join(folder, 'bench.rotorfit')
  afterAll(() => rmSync(folder, { recursive: true, force: true }))
  const runWith = async (
    changes: Partial<CommandContext>,
    ...args: string[]
  ): Promise<CommandOutcome> => {
    let out = ''
    let err = ''
    const code = await runCommandLine(args, {
      out: text => {
        out += text
      },
      say: line => {
        err += `${line}\n`
      },
      progress: () => {},
      env: { ROTORFIT_DB: db },
      interactive: false,
      ask: () => Promise.reject(new Error('nobody to ask')),
      onKey: () => () => {},
      interrupted: new AbortController().signal,
      ...changes,
    })
    return { code, out, err }
  }
  return { folder, db, run: (...args) => runWith({}, ...args), runWith }
}
