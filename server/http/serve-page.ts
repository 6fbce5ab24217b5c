import { chmod, rm, writeFile } from 'node:fs/promises'
import { fileURLToPath } from 'node:url'
import packageFacts from '../../package.json' with { type: 'json' }
import { CAUTIONS } from '../../src/procedure/cautions.ts'
import { runJob } from '../jobs/run-job.ts'
import { connectBench } from '../session/connect.ts'
import type { Store } from '../store/store.ts'
import type { AskStore, QuestionName } from './ask-store.ts'
import { type BenchDeskOptions, createBenchDesk } from './bench-desk.ts'
import type { HttpOptions } from './deps.ts'
import { createHttpServer } from './http-server.ts'
import { createImportDesk } from './import-desk.ts'
import { createJobDesk } from './job-desk.ts'
import { openStoreDesk } from './open-store-desk.ts'

export interface ServeOptions extends HttpOptions {
  /** Open on this thread; stays the caller's to close. */
  readonly store: Store
  readonly knownPort: string | null
  readonly openWay: BenchDeskOptions['openWay']
  /** The built page; where it is left out, the one beside the program. */
  readonly pageFolder?: string
  readonly now: () => number
  readonly say: (line: string) => void
}

export interface ServedPage {
  readonly port: number
  /** The address to open: makes one browser the operator's. `landing` is a path of the page. */
  entryUrl(landing?: string): string
  /** Stops the motor, ends jobs and streams, closes the port and the rig. */
  close(): Promise<void>
}

/** Questions that read or simulate whole runs, or draw pages. */
const PICTURES: ReadonlySet<QuestionName> = new Set([
  'runPage',
  'series',
  'recordingText',
  'sheetFile',
  'drivePage',
  'heatPage',
  'recognisePage',
  'withstand',
])

const LARGEST_IMPORT_BYTES = 2 * 1024 ** 3

/** Beside the program where it is built, in dist where it runs from source. */
const builtPage = () =>
  fileURLToPath(
    new URL(import.meta.url.endsWith('.ts') ? '../../dist/web' : './web', import.meta.url),
  )

/** Serves the page on a store, with the bench, jobs and imports behind it. */
export async function servePage(options: ServeOptions): Promise<ServedPage> {
  const { store, now, say } = options
  const bench = createBenchDesk({
    store,
    knownPort: options.knownPort,
    openWay: options.openWay,
    connect: connectBench,
    now,
  })
  const desk = openStoreDesk(store.file)
  // Pictures of long runs and what they tell take seconds: lists and names do not wait behind them.
  const pictures = openStoreDesk(store.file)
  const ask: AskStore = (name, input) => (PICTURES.has(name) ? pictures : desk).ask(name, input)
  const jobs = createJobDesk()
  const imports = createImportDesk({
    storeFile: store.file,
    maxBytes: LARGEST_IMPORT_BYTES,
    tryOut: (input, onReport) => runJob('import', input, { onReport }),
  })
  const closeParts = async () => {
    await bench.close()
    await jobs.close()
    await imports.close()
    await desk.close()
    await pictures.close()
  }
  try {
    const server = await createHttpServer(
      {
        bench,
        jobs,
        imports,
        ask,
        cautions: CAUTIONS,
        pageFolder: options.pageFolder ?? builtPage(),
        version: packageFacts.version,
        storeFile: store.file,
        now,
        say,
      },
      options,
    )
    const token = await writeToken(store.file, server.port, server.access.commandToken)
    return {
      port: server.port,
      entryUrl: server.entryUrl,
      async close() {
        // The motor first; then those who look on.
        await bench.stop('the server ends')
        await server.close()
        await closeParts()
        await rm(token, { force: true })
      },
    }
  } catch (error) {
    await closeParts()
    throw error
  }
}

/** For this user's own programs: address and token, in a file that nobody else may read. */
async function writeToken(storeFile: string, port: number, token: string): Promise<string> {
  const file = `${storeFile}.serve-${port}`
  await rm(file, { force: true })
  const text = `${JSON.stringify({ address: `http://127.0.0.1:${port}/api/v1`, token })}\n`
  await writeFile(file, text, { mode: 0o600, flag: 'wx' })
  await chmod(file, 0o600)
  return file
}
