/**
 * Every address of the HTTP API, under `API_ROOT`. The page calls them by name; their schemas are in
 * http.ts, apart, so that a page that only calls does not carry the validator.
 */
export const API_ROOT = '/api/v1'

/** State-changing requests carry this header: a foreign page cannot send it without our consent. */
export const PAGE_HEADER = 'x-rotorfit'
/** Names the event stream of the page that asks; driving needs the stream that holds the control. */
export const STREAM_HEADER = 'x-rotorfit-stream'

/** Where a browser gets its cookie: `/enter/KEY`, good once. */
export const ENTRY_ROOT = '/enter/'

type Method = 'GET' | 'POST' | 'PATCH' | 'DELETE'

export const PATHS = {
  openapi: { method: 'GET', path: '/openapi.json' },
  session: { method: 'GET', path: '/session' },
  login: { method: 'POST', path: '/login' },
  events: { method: 'GET', path: '/events' },
  takeControl: { method: 'POST', path: '/control' },
  releaseControl: { method: 'DELETE', path: '/control' },

  bench: { method: 'GET', path: '/bench' },
  ports: { method: 'GET', path: '/bench/ports' },
  connect: { method: 'POST', path: '/bench/connect' },
  reconnect: { method: 'POST', path: '/bench/reconnect' },
  disconnect: { method: 'POST', path: '/bench/disconnect' },
  acknowledge: { method: 'POST', path: '/bench/cautions' },
  stop: { method: 'POST', path: '/bench/stop' },
  startTest: { method: 'POST', path: '/bench/test' },
  startSequence: { method: 'POST', path: '/bench/sequence' },
  actOnSequence: { method: 'POST', path: '/bench/sequence/act' },
  shortTestPlan: { method: 'GET', path: '/bench/short-test/plan' },
  startShortTest: { method: 'POST', path: '/bench/short-test' },
  actOnShortTest: { method: 'POST', path: '/bench/short-test/act' },

  motors: { method: 'GET', path: '/motors' },
  addMotor: { method: 'POST', path: '/motors' },
  motor: { method: 'GET', path: '/motors/{motor}' },
  changeMotor: { method: 'PATCH', path: '/motors/{motor}' },
  deleteMotor: { method: 'DELETE', path: '/motors/{motor}' },
  restoreMotor: { method: 'POST', path: '/motors/{motor}/restore' },

  run: { method: 'GET', path: '/runs/{run}' },
  series: { method: 'GET', path: '/runs/{run}/series' },
  changeRun: { method: 'PATCH', path: '/runs/{run}' },
  deleteRun: { method: 'DELETE', path: '/runs/{run}' },
  restoreRun: { method: 'POST', path: '/runs/{run}/restore' },
  recording: { method: 'GET', path: '/runs/{run}/recording.csv' },

  previewImport: { method: 'POST', path: '/imports' },
  changeImport: { method: 'PATCH', path: '/imports/{import}' },
  acceptImport: { method: 'POST', path: '/imports/{import}/accept' },
  dropImport: { method: 'DELETE', path: '/imports/{import}' },

  identification: { method: 'GET', path: '/motors/{motor}/identification' },
  startFit: { method: 'POST', path: '/motors/{motor}/fits' },
  job: { method: 'GET', path: '/jobs/{job}' },
  cancelJob: { method: 'DELETE', path: '/jobs/{job}' },
  sheet: { method: 'GET', path: '/motors/{motor}/sheet' },
  sheetFile: { method: 'GET', path: '/motors/{motor}/sheet/{format}' },
  drivePage: { method: 'GET', path: '/motors/{motor}/drive' },
  heat: { method: 'GET', path: '/motors/{motor}/heat' },
  recognise: { method: 'GET', path: '/motors/{motor}/recognise' },
  withstand: { method: 'POST', path: '/motors/{motor}/withstand' },
  modelFile: { method: 'GET', path: '/motors/{motor}/model/{format}' },
  schema: { method: 'GET', path: '/schemas/{name}' },

  samples: { method: 'GET', path: '/samples' },
  addBatch: { method: 'POST', path: '/batches' },
  refitBatch: { method: 'POST', path: '/batches/{batch}/refit' },
  batchReport: { method: 'GET', path: '/batches/{batch}/report/{format}' },
  scanSample: { method: 'POST', path: '/batches/{batch}/samples' },
  setLimits: { method: 'POST', path: '/types/{type}/limits' },
  enterByHand: { method: 'POST', path: '/entries' },
  study: { method: 'GET', path: '/types/{type}/study' },
  addTrial: { method: 'POST', path: '/types/{type}/study' },
} as const satisfies Record<string, { method: Method; path: string }>

export type EndpointName = keyof typeof PATHS

/** The path with its names filled in: `fillPath('run', { run: 7 })`. */
export function fillPath(
  name: EndpointName,
  params: Readonly<Record<string, string | number>>,
): string {
  return (
    API_ROOT +
    PATHS[name].path.replaceAll(/\{(\w+)\}/g, (_, key: string) => {
      const value = params[key]
      if (value === undefined) throw new RangeError(`${name}: parameter ${key} is missing`)
      return encodeURIComponent(value)
    })
  )
}
