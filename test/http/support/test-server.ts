import { fileURLToPath } from 'node:url'
import { answer } from '../../../server/http/answers/answer-table.ts'
import { createLibrary } from '../../../server/http/answers/create-library.ts'
import type { AskStore } from '../../../server/http/ask-store.ts'
import type { BenchControl, HttpOptions } from '../../../server/http/deps.ts'
import { createHttpServer, type HttpServer } from '../../../server/http/http-server.ts'
import { createImportDesk } from '../../../server/http/import-desk.ts'
import { createJobDesk } from '../../../server/http/job-desk.ts'
import { runJob } from '../../../server/jobs/run-job.ts'
import type { Store } from '../../../server/store/store.ts'
import { CAUTIONS } from '../../../src/procedure/cautions.ts'
import { PAGE_HEADER } from '../../../src/contract/http-paths.ts'

export interface TestServer {
  readonly server: HttpServer
  readonly origin: string
  /** The operator's cookie, as a browser would send it. */
  readonly cookie: string
  readonly said: string[]
  /** As the page calls: cookie and header where not said otherwise. */
  fetch(path: string, init?: RequestInit): Promise<Response>
  close(): Promise<void>
}

/** The real server over a store in this thread and whatever bench a test gives it. */
export async function startTestServer(
  store: Store,
  bench: BenchControl,
  options: Partial<HttpOptions> & { pageFolder?: string } = {},
): Promise<TestServer> {
  const library = createLibrary(store)
  const ask: AskStore = async (name, input) => answer(library, name, input)
  const jobs = createJobDesk()
  const imports = createImportDesk({
    storeFile: store.file,
    maxBytes: 8 * 1024 ** 2,
    tryOut: (input, onReport) => runJob('import', input, { onReport }),
  })
  const said: string[] = []
  const server = await createHttpServer(
    {
      bench,
      jobs,
      imports,
      ask,
      cautions: CAUTIONS,
      pageFolder:
        options.pageFolder ?? fileURLToPath(new URL('../../../dist/web', import.meta.url)),
      version: '0.0.0-test',
      storeFile: store.file,
      now: Date.now,
      say: line => said.push(line),
    },
    { host: '127.0.0.1', port: 0, password: null, ...options },
  )
  const origin = `http://127.0.0.1:${server.port}`
  const entered = await fetch(server.entryUrl().replace(/^http:\/\/[^/]+/, origin), {
    redirect: 'manual',
  })
  const cookie = (entered.headers.get('set-cookie') ?? '').split(';')[0]!
  return {
    server,
    origin,
    cookie,
    said,
    fetch: (path, init = {}) =>
      fetch(origin + path, {
        ...init,
        headers: { cookie, [PAGE_HEADER]: '1', ...(init.headers as Record<string, string>) },
      }),
    async close() {
      await server.close()
      await jobs.close()
      await imports.close()
    },
  }
}
