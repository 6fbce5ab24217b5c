import { createServer, type Server } from 'node:http'
import type { AddressInfo } from 'node:net'
import express, { type Express, type NextFunction, type Request, type Response } from 'express'
import type { z } from 'zod'
import { InputFault, WorkFault } from '../../src/base/faults.ts'
import { ENDPOINTS, type Endpoint } from '../../src/contract/http.ts'
import {
  API_ROOT,
  ENTRY_ROOT,
  type EndpointName,
  PATHS,
  STREAM_HEADER,
} from '../../src/contract/http-paths.ts'
import { type Access, createAccess, isLocal } from './access.ts'
import { hostInUrl, isAnyAddress, isLoopback } from './addresses.ts'
import { createControl } from './control.ts'
import type { HttpDeps, HttpOptions } from './deps.ts'
import { type Call, createHandlers, type Handlers, setCookie } from './endpoints.ts'
import { guard, secureHeaders } from './guard.ts'
import { describeFault, HttpFault } from './http-fault.ts'
import { createLiveHub } from './live-hub.ts'
import { requestWords } from './request-words.ts'
import { pageRoutes } from './page-files.ts'

export interface HttpServer {
  readonly port: number
  /** For the person at this machine: makes one browser the operator's. */
  entryUrl(landing?: string): string
  readonly access: Access
  close(): Promise<void>
}

const LARGEST_JSON = '256kb'

/** Serves page and API. Resolves once it listens; rejects with one line where it cannot. */
export async function createHttpServer(deps: HttpDeps, options: HttpOptions): Promise<HttpServer> {
  const app = express()
  const servers = [createServer(app)]
  const port = await listen(servers[0]!, options)
  const remote = !isLoopback(options.host) && options.host !== 'localhost'
  if (remote && !isAnyAddress(options.host)) {
    // The bench itself is driven from this machine only, by its loopback address.
    const local = createServer(app)
    await listen(local, { ...options, host: '127.0.0.1', port })
    servers.push(local)
  }
  const localUrl = (path: string) =>
    `http://${remote ? '127.0.0.1' : hostInUrl(options.host)}:${port}${path}`
  const access = createAccess({
    port,
    password: options.password,
    onNewEntry: path => deps.say(`for another browser: ${localUrl(path)}`),
  })

  const hub = createLiveHub(stream => {
    if (control.gone(stream)) void deps.bench.stop('the page that drove the bench was closed')
  })
  const control = createControl(hub.has, () => announce())
  const benchView = () => ({ ...deps.bench.view(), driver: control.driver })
  const announce = () => hub.send({ type: 'bench', bench: benchView() })
  const deafen = [
    deps.bench.listen(news => (news.type === 'changed' ? announce() : hub.send(news))),
    deps.jobs.listen(job => hub.send({ type: 'job', job })),
  ]

  app.disable('x-powered-by')
  app.disable('etag')
  app.set('query parser', 'simple')
  app.use(
    secureHeaders,
    guard(() => port, options.host),
  )
  app.get(`${ENTRY_ROOT}:key`, (request, response) => {
    const cookie = isLocal(request) ? access.enter(String(request.params.key)) : null
    if (cookie !== null) setCookie(response, access.cookieName, cookie)
    // A used address still leads to the page: who has the cookie already is let in by it.
    const entered = cookie !== null || access.roleOf(request) === 'operator'
    response.redirect(303, entered ? landing(request.query.to) : '/entry-used')
  })
  const handlers = createHandlers({ deps, access, hub, control, benchView })
  apiRoutes(app, handlers, access, stream => control.require(stream))
  app.use(API_ROOT, (request, _response) => {
    throw new HttpFault(404, 'not-found', `there is nothing at ${request.method} ${request.path}`)
  })
  pageRoutes(app, deps.pageFolder)
  app.use(answerFault(deps.say))

  return {
    port,
    access,
    entryUrl: to => localUrl(access.entryPath() + (to === undefined ? '' : `?to=${to}`)),
    async close() {
      for (const off of deafen) off()
      hub.close()
      await Promise.all(servers.map(closeServer))
    },
  }
}

/** Only a plain path of this page: never another site. */
function landing(to: unknown): string {
  return typeof to === 'string' && /^\/[a-z0-9]+(\/[a-z0-9]+)*$/.test(to) ? to : '/'
}

function closeServer(server: Server): Promise<void> {
  const closed = new Promise<void>(resolve => server.close(() => resolve()))
  server.closeIdleConnections()
  setTimeout(() => server.closeAllConnections(), 500).unref()
  return closed
}

function listen(server: Server, { host, port }: HttpOptions): Promise<number> {
  return new Promise((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => {
      const where = `port ${port} of ${host}`
      if (error.code === 'EADDRINUSE') {
        reject(
          new InputFault(
            `${where} is in use; choose another with --http-port, e.g. --http-port ${port + 1}`,
          ),
        )
      } else if (error.code === 'EACCES') {
        reject(new InputFault(`${where} may not be used; choose one above 1023 with --http-port`))
      } else if (error.code === 'EADDRNOTAVAIL' || error.code === 'ENOTFOUND') {
        reject(new InputFault(`--host ${host} is no address of this machine`))
      } else reject(new WorkFault(`${where} cannot be served: ${error.message}`))
    })
    server.listen(port, host, () => resolve((server.address() as AddressInfo).port))
  })
}

/** One route for each endpoint of the contract, and none besides. */
function apiRoutes(
  app: Express,
  handlers: Handlers,
  access: Access,
  requireControl: (stream: string) => void,
): void {
  const json = express.json({ limit: LARGEST_JSON, strict: false })
  for (const name of Object.keys(PATHS) as EndpointName[]) {
    const { method, path } = PATHS[name]
    const endpoint: Endpoint = ENDPOINTS[name]
    const route = API_ROOT + path.replaceAll(/\{(\w+)\}/g, ':$1')
    const handle = handlers[name] as (call: Call<EndpointName>) => unknown
    const answer = async (request: Request, response: Response) => {
      const stream = String(request.headers[STREAM_HEADER] ?? '')
      if (endpoint.may === 'drive') requireControl(stream)
      response.set('Cache-Control', 'no-store')
      const result = await handle({
        params: check(endpoint.params, request.params, 'address') as never,
        query: check(endpoint.query, request.query, 'query') as never,
        body: check(endpoint.body, request.body, 'body') as never,
        stream,
        request,
        response,
      })
      if (result === null) response.status(204).end()
      else if (result !== undefined) response.json(result)
    }
    const admit = (request: Request, _response: Response, next: NextFunction) => {
      requireRole(endpoint.may, access, request)
      next()
    }
    const verb = method.toLowerCase() as 'get' | 'post' | 'patch' | 'delete'
    if (endpoint.body) app[verb](route, admit, json, answer)
    else app[verb](route, admit, answer)
  }
}

function requireRole(may: Endpoint['may'], access: Access, request: Request): void {
  if (may === 'anyone') return
  const role = access.roleOf(request)
  if (role === 'stranger') {
    throw new HttpFault(401, 'password', 'give the password of the read-only view first')
  }
  if (may !== 'look' && role !== 'operator') {
    throw new HttpFault(
      403,
      'operator',
      isLocal(request)
        ? 'this browser may only look; open the address that the server printed at its start'
        : 'from another machine the bench can only be looked at; motors are driven from the machine that they are wired to',
    )
  }
}

function check(schema: z.ZodType | undefined, value: unknown, where: string): unknown {
  if (!schema) return undefined
  const result = schema.safeParse(value, { reportInput: true })
  if (result.success) return result.data
  const issue = result.error.issues[0]!
  const at = issue.path.length > 0 ? `${where}: ${issue.path.join('.')}` : where
  throw new HttpFault(400, 'request', `${at}: ${requestWords(issue)}`)
}

function answerFault(say: (line: string) => void) {
  return (error: unknown, request: Request, response: Response, next: NextFunction): void => {
    const { status, body } = describeFault(error)
    if (status === 500)
      say(`${request.method} ${request.path}: ${(error as Error)?.stack ?? error}`)
    if (response.headersSent) next(error)
    else response.status(status).set('Cache-Control', 'no-store').json(body)
  }
}
