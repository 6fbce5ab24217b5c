import { existsSync } from 'node:fs'
import type { Command } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import { defaultStoreFile } from '../store/default-store-file.ts'
import { openStore } from '../store/open-store.ts'
import type { Store } from '../store/store.ts'

/** What a command sees of the world: streams, surroundings and the store, so that tests can stand in. */
export interface CommandContext {
  /** Results: standard output. */
  readonly out: (text: string) => void
  /** Everything else: one line on standard error. */
  readonly say: (line: string) => void
  /** Replaces the last progress line where standard error is a terminal; rarely a line of its own elsewhere. */
  readonly progress: (fraction: number, text: string) => void
  readonly env: Readonly<Record<string, string | undefined>>
  /** True where a person can be asked on this terminal. */
  readonly interactive: boolean
  /** One answer typed by a person. Only where `interactive`. */
  readonly ask: (prompt: string) => Promise<string>
  /** Calls back for any key while nothing is asked; returns how to end that. Never where not `interactive`. */
  readonly onKey: (listener: () => void) => () => void
  /** Lines of standard input where it is no terminal: a bar-code scanner behind a pipe, a list. */
  readonly inputLines?: () => AsyncIterable<string>
  /** Aborted by the first interrupt or termination signal. */
  readonly interrupted: AbortSignal
}

export interface StoreOption {
  readonly db?: string
}

export interface ResultOption {
  readonly json?: boolean
}

export const withStore = (command: Command): Command =>
  command.option('--db <file>', 'the store (else ROTORFIT_DB, else a file in your data folder)')

export const withResult = (command: Command): Command =>
  withStore(command).option('--json', 'print the result as one JSON document')

export function storeFile(context: CommandContext, options: StoreOption): string {
  return options.db ?? context.env.ROTORFIT_DB ?? defaultStoreFile(context.env)
}

/**
 * Opens the store, says which it is, and closes it whatever happens. A store that was named but is not there
 * is taken for a mistyped name: only commands that put the first things into one make it (`makingStore`).
 */
export async function usingStore<T>(
  context: CommandContext,
  options: StoreOption,
  work: (store: Store) => T | Promise<T>,
): Promise<T> {
  const file = storeFile(context, options)
  const isNamed = (options.db ?? context.env.ROTORFIT_DB) !== undefined
  if (isNamed && !existsSync(file)) {
    throw new InputFault(`${file}: there is no such store; import, log, sequence or serve make one`)
  }
  return makingStore(context, options, work)
}

/** As `usingStore`, and makes the store where there is none. */
export async function makingStore<T>(
  context: CommandContext,
  options: StoreOption,
  work: (store: Store) => T | Promise<T>,
): Promise<T> {
  const file = storeFile(context, options)
  const store = openStore(file, { now: Date.now })
  try {
    context.say(`store: ${store.file}`)
    const left = store.interrupted
    if (left.length > 0) {
      const which = left.length === 1 ? `run ${left[0]} was` : `runs ${left.join(', ')} were`
      context.say(`${which} left open by a logger that died: kept, and marked interrupted`)
    }
    return await work(store)
  } finally {
    store.close()
  }
}

/** One result: a JSON document on demand, else text for people. */
export function printResult(
  context: CommandContext,
  options: ResultOption,
  document: unknown,
  text: () => string,
): void {
  context.out(options.json ? `${JSON.stringify(document, null, 2)}\n` : text())
}
