import type { Command } from 'commander'
import { readFile } from 'node:fs/promises'
import { InputFault } from '../../src/base/faults.ts'
import { isLoopback } from '../http/addresses.ts'
import { type ServedPage, servePage } from '../http/serve-page.ts'
import { openStore } from '../store/open-store.ts'
import { openWay } from './bench-connection.ts'
import { type CommandContext, type StoreOption, storeFile, withStore } from './context.ts'
import { integerOption } from './parse-options.ts'

interface ServeCommandOptions extends StoreOption {
  readonly host: string
  readonly httpPort: number
  readonly port?: string
  readonly passwordFile?: string
}

export const DEFAULT_HTTP_PORT = 8080
/** This thread keeps a rig alive: it does not wait long for another writer. */
const BUSY_MS = 20
const SHORTEST_PASSWORD = 8

export function addServeCommand(program: Command, context: CommandContext): void {
  withStore(program.command('serve'))
    .description('the page, and its HTTP API under /api/v1')
    .option('--host <address>', 'where to listen; beyond this machine it is read-only', '127.0.0.1')
    .option(
      '--http-port <number>',
      'where to listen; 0 for any that is free',
      integerOption(0, 65_535),
      DEFAULT_HTTP_PORT,
    )
    .option('--port <serial>', 'a serial port to offer first')
    .option(
      '--password-file <file>',
      'holds the password of the read-only view for other machines (else ROTORFIT_PASSWORD)',
    )
    .action(async (options: ServeCommandOptions) => {
      await serveUntilInterrupted(context, {
        file: storeFile(context, options),
        host: options.host,
        httpPort: options.httpPort,
        port: options.port ?? null,
        password: await passwordFor(context, options),
      })
    })
}

export interface Serving {
  /** The store. */
  readonly file: string
  readonly host: string
  readonly httpPort: number
  /** Serial port to offer first. */
  readonly port: string | null
  readonly password: string | null
  /** Path on which the printed address opens; the bench where it is left out. */
  readonly landing?: string
}

/** Serves the page on a store and says where, until the person at the terminal ends it. */
export async function serveUntilInterrupted(
  context: CommandContext,
  serving: Serving,
): Promise<void> {
  const store = openStore(serving.file, {
    now: Date.now,
    busyMs: BUSY_MS,
    checkpoints: 'elsewhere',
  })
  try {
    const page = await servePage({
      store,
      host: serving.host,
      port: serving.httpPort,
      password: serving.password,
      knownPort: serving.port,
      openWay,
      now: Date.now,
      say: context.say,
    })
    announce(context, serving, page)
    await untilInterrupted(context.interrupted)
    context.say('stopping')
    await page.close()
  } finally {
    store.close()
  }
}

function announce(context: CommandContext, serving: Serving, page: ServedPage): void {
  context.say(`store: ${serving.file}`)
  if (!isLocal(serving.host)) {
    context.say(
      `read-only, behind the password, for other machines: port ${page.port} of ${serving.host}. ` +
        'Whoever has the password sees every motor and run; nobody can drive or change anything from there. ' +
        'The connection is not encrypted.',
    )
  }
  context.say('open this address in a browser on this machine (good once); Ctrl-C ends:')
  context.out(`${page.entryUrl(serving.landing)}\n`)
}

const isLocal = (host: string) => host === 'localhost' || isLoopback(host)

/** From a file or the environment, never from an argument: arguments are seen by every user. */
async function passwordFor(
  context: CommandContext,
  { host, passwordFile }: ServeCommandOptions,
): Promise<string | null> {
  if (isLocal(host)) return null
  const given = passwordFile
    ? await readFile(passwordFile, 'utf8').catch(error => {
        throw new InputFault(`the password file ${passwordFile} cannot be read (${error.code})`)
      })
    : context.env.ROTORFIT_PASSWORD
  const password = given?.replace(/\r?\n$/, '')
  if (!password) {
    throw new InputFault(
      `--host ${host} shows the store to other machines and needs a password: put it in a file and name that with --password-file, or in ROTORFIT_PASSWORD`,
    )
  }
  if (password.length < SHORTEST_PASSWORD) {
    throw new InputFault(
      `the password has ${password.length} characters; at least ${SHORTEST_PASSWORD} are needed`,
    )
  }
  return password
}

function untilInterrupted(signal: AbortSignal): Promise<void> {
  return new Promise(resolve => {
    if (signal.aborted) resolve()
    else signal.addEventListener('abort', () => resolve(), { once: true })
  })
}
