import type { Request, Response } from 'express'
import type { AnswerOf, BodyOf, ParamsOf, QueryOf } from '../../src/contract/http.ts'
import type { EndpointName } from '../../src/contract/http-paths.ts'
import { openApiDocument } from '../../src/contract/openapi.ts'
import { publishedSchema } from '../../src/contract/published-schemas.ts'
import { runJob } from '../jobs/run-job.ts'
import type { Access } from './access.ts'
import { isLocal } from './access.ts'
import type { Control } from './control.ts'
import type { HttpDeps } from './deps.ts'
import { fitJobInput } from './fit-order.ts'
import { HttpFault } from './http-fault.ts'
import type { LiveHub } from './live-hub.ts'
import { refitted } from './refit-order.ts'
import { sendRecording } from './files-out.ts'

/** One request, checked. `stream` names the caller's event stream; empty where it has none. */
export interface Call<N extends EndpointName> {
  readonly params: ParamsOf<N>
  readonly query: QueryOf<N>
  readonly body: BodyOf<N>
  readonly stream: string
  readonly request: Request
  readonly response: Response
}

/** Handlers return their answer; those that write the response themselves return undefined. */
export type Handlers = {
  readonly [N in EndpointName]: (
    call: Call<N>,
  ) => Promise<AnswerOf<N> | null | undefined> | AnswerOf<N> | null | undefined
}

export interface Surroundings {
  readonly deps: HttpDeps
  readonly access: Access
  readonly hub: LiveHub
  readonly control: Control
  readonly benchView: () => AnswerOf<'stop'>
}

export function createHandlers(around: Surroundings): Handlers {
  const { deps, access, hub, control, benchView } = around
  const { ask, bench, jobs, imports } = deps
  const session = (request: Request, role = access.roleOf(request)): AnswerOf<'session'> => ({
    program: 'rotorfit',
    version: deps.version,
    role,
    database: role === 'stranger' ? null : deps.storeFile,
    remote: !isLocal(request),
  })
  /** Does something to the bench and answers with how it then stands. */
  const driving = async (work: () => void | Promise<void>) => {
    await work()
    return benchView()
  }

  return {
    openapi: () => openApiDocument(deps.version),
    session: ({ request }) => session(request),
    login({ body, request, response }) {
      const cookie = access.login(body.password, deps.now())
      if (cookie === 'wait') {
        throw new HttpFault(429, 'wait', 'too many wrong passwords; wait a minute and try again')
      }
      if (cookie === 'wrong') throw new HttpFault(401, 'password', 'this is not the password')
      setCookie(response, access.cookieName, cookie)
      return session(request, 'viewer')
    },
    events({ request, response }) {
      hub.open(response, benchView(), browserOf(request), stream => stream !== control.driver)
      return undefined
    },
    takeControl({ body, stream }) {
      control.take(stream, body.takeOver, bench.view().running !== null)
      return benchView()
    },
    releaseControl({ stream }) {
      control.release(stream)
      return benchView()
    },

    bench: () => ({ bench: benchView(), cautions: deps.cautions.map(caution => ({ ...caution })) }),
    ports: () => bench.ports(),
    connect: ({ body }) => driving(() => bench.connect(body.port, body.baud)),
    reconnect: () => driving(() => bench.reconnect()),
    disconnect: () => driving(() => bench.disconnect()),
    acknowledge: () => driving(() => bench.acknowledgeCautions()),
    stop: () => driving(() => bench.stop('the operator pressed stop on the page')),
    startTest: ({ body }) => driving(() => bench.startTest(body)),
    startSequence: ({ body }) => driving(() => bench.startSequence(body.motor, body.resume)),
    actOnSequence: ({ body }) => driving(() => bench.actOnSequence(body)),
    shortTestPlan: ({ query }) => bench.planShortTest(query),
    startShortTest: ({ body }) => driving(() => bench.startShortTest(body)),
    actOnShortTest: ({ body }) => driving(() => bench.actOnShortTest(body.act)),

    motors: ({ query }) => ask('motorList', query),
    addMotor: ({ body }) => ask('addMotor', body),
    motor: ({ params }) => ask('motorPage', params),
    changeMotor: ({ params, body }) => ask('changeMotor', { ...params, changes: body }),
    deleteMotor: ({ params }) => ask('deleteMotor', params),
    restoreMotor: ({ params }) => ask('restoreMotor', params),

    run: ({ params, query }) => ask('runPage', { ...params, ...query }),
    series: ({ params, query }) => ask('series', { ...params, ...query }),
    changeRun: ({ params, body }) => ask('changeRun', { ...params, changes: body }),
    deleteRun: ({ params }) => ask('deleteRun', params),
    restoreRun: ({ params }) => ask('restoreRun', params),
    recording: ({ params, response }) => sendRecording(deps, params.run, response),

    previewImport: ({ query, request }) => imports.receive(query.name, request),
    changeImport: ({ params, body }) => imports.look(params.import, body),
    acceptImport({ params, body }) {
      const { input, done } = imports.accept(params.import, body)
      return jobs.start({
        kind: 'import',
        async work(onReport, signal) {
          const { runId } = await runJob('import', input, { onReport, signal })
          await done()
          return { resultId: runId }
        },
      })
    },
    async dropImport({ params }) {
      await imports.drop(params.import)
      return null
    },

    async identification({ params, query }) {
      const page = await ask('identificationPage', { ...params, ...query })
      return { ...page, job: jobs.fitting(params.motor) }
    },
    async startFit({ params, body }) {
      if (jobs.fitting(params.motor)) {
        throw new HttpFault(
          409,
          'busy',
          'this motor is being identified already; cancel that first',
        )
      }
      const motor = await ask('motorName', params)
      const input = fitJobInput(deps.storeFile, motor, body)
      return jobs.start({
        kind: 'fit',
        motorId: params.motor,
        work: async (onReport, signal) => {
          const { id } = await runJob('fit', input, { onReport, signal })
          return { resultId: id }
        },
      })
    },
    sheet: ({ params, query }) =>
      ask('sheetPage', { ...params, ...query, madeAt: new Date(deps.now()).toISOString() }),
    drivePage: ({ params, query }) => ask('drivePage', { ...params, ...query }),
    heat: ({ params, query }) => ask('heatPage', { ...params, ...query }),
    recognise: ({ params, query }) => ask('recognisePage', { ...params, ...query }),
    withstand: ({ params, query, body }) => ask('withstand', { ...params, ...query, drive: body }),
    async modelFile({ params, query, response }) {
      const { text, fileName } = await ask('modelFile', { ...params, ...query })
      response
        .attachment(fileName)
        .type(params.format === 'json' ? 'json' : 'text')
        .send(text)
      return undefined
    },
    schema: ({ params }) => publishedSchema(params.name),
    async sheetFile({ params, query, response }) {
      const madeAt = new Date(deps.now()).toISOString()
      const { bytes, fileName } = await ask('sheetFile', { ...params, ...query, madeAt })
      response.attachment(fileName).send(Buffer.from(bytes))
      return undefined
    },
    async samples({ query }) {
      const at = new Date(deps.now()).toISOString()
      return { ...(await ask('samplesView', { ...query, at })), refits: jobs.refits() }
    },
    addBatch: ({ body }) => ask('addBatch', body),
    async refitBatch({ params, body }) {
      if (jobs.refits().some(each => each.batch === params.batch)) {
        throw new HttpFault(
          409,
          'busy',
          'this batch is being identified anew already; cancel that first',
        )
      }
      const order = await ask('refitOrder', { ...params, ...body })
      return jobs.start({
        kind: 'refit',
        batchId: params.batch,
        work: (report, signal) => refitted(deps.storeFile, order, report, signal),
      })
    },
    async batchReport({ params, query, response }) {
      const at = new Date(deps.now()).toISOString()
      const { bytes, fileName } = await ask('batchReport', { ...params, ...query, at })
      response.attachment(fileName).send(Buffer.from(bytes))
      return undefined
    },
    scanSample: ({ params, body }) => ask('scanSample', { ...params, ...body }),
    setLimits: ({ params, body }) => ask('setLimits', { ...params, body }),
    enterByHand: ({ body }) => ask('enterByHand', body),
    study: ({ params, query }) => ask('studyPage', { ...params, ...query }),
    addTrial: ({ params, body }) => ask('addTrial', { ...params, body }),

    job: ({ params }) => jobs.get(params.job),
    cancelJob: ({ params }) => jobs.cancel(params.job),
  }
}

/** What pages of one browser have in common; null for a program that shows its token. */
function browserOf({ headers, socket }: Request): string | null {
  if (headers.authorization !== undefined) return null
  return [headers.cookie, headers['user-agent'], socket.remoteAddress].join('\n')
}

export function setCookie(response: Response, name: string, value: string): void {
  response.cookie(name, value, { httpOnly: true, sameSite: 'strict', path: '/' })
}
