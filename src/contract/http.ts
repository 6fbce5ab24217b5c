import { z } from 'zod'
import {
  benchPage,
  benchView,
  connectBody,
  portList,
  sequenceAct,
  sequenceBody,
  testBody,
} from './http-bench.ts'
import {
  fitBody,
  identificationPage,
  jobView,
  motorChanges,
  motorList,
  motorPage,
  motorView,
  newMotorBody,
} from './http-motors.ts'
import { driveDocument } from './drive-document.ts'
import { drivePage, heatPage, heatQuery, recognisePage, recogniseQuery } from './http-heat.ts'
import type { EndpointName } from './http-paths.ts'
import {
  batchAdded,
  handEntryBody,
  limitsPage,
  newBatchBody,
  newLimitsBody,
  refitBody,
  ruleQuery,
  samplesQuery,
  samplesView,
  scanBody,
  scanned,
  shortTestAct,
  shortTestBody,
  shortTestPlan,
  shortTestQuery,
  studyPage,
  studyQuery,
  trialBody,
} from './http-samples.ts'
import { MODEL_FORMATS } from './model-formats.ts'
import { PUBLISHED_NAMES } from './published-schemas.ts'
import { sheetPage } from './sheet-facts.ts'
import { withstandDocument } from './withstand-document.ts'
import {
  importAccept,
  importChanges,
  importPreview,
  importQuery,
  runChanges,
  runPage,
  seriesQuery,
  seriesView,
} from './http-runs.ts'

/**
 * The HTTP API: one table from which requests are checked, types are taken and the OpenAPI document
 * is written. Paths are in http-paths.ts.
 */
export interface Endpoint {
  readonly summary: string
  /** Who may: anyone; who may read; who came by the address printed at start; who drives the bench. */
  readonly may: 'anyone' | 'look' | 'change' | 'drive'
  readonly params?: z.ZodObject
  readonly query?: z.ZodObject
  readonly body?: z.ZodType
  /** The body is a file, as it is. */
  readonly upload?: true
  /** Answer as JSON; a media type where it is something else; null for 204. */
  readonly answer: z.ZodType | string | null
}

const key = z.coerce.number().int().positive()
const motorKey = z.object({ motor: key })
const runKey = z.object({ run: key })
const batchKey = z.object({ batch: key })
const typeKey = z.object({ type: key })
const text = z.string().min(1).max(100)

export const problem = z.object({
  error: z.object({
    code: z.string(),
    /** One line: what is wrong, where, and what would be right. */
    text: z.string(),
  }),
})

export const sessionView = z.object({
  program: z.literal('rotorfit'),
  version: z.string(),
  role: z.enum(['operator', 'viewer', 'stranger']),
  /** The store in use, as a path; only for those who may read it. */
  database: z.string().nullable(),
  /** True where the page is reached from another machine: read-only. */
  remote: z.boolean(),
})

export const controlBody = z.object({ takeOver: z.boolean().default(false) })
export const loginBody = z.object({ password: z.string().min(1).max(500) })

export const ENDPOINTS = {
  openapi: { summary: 'This description', may: 'anyone', answer: z.looseObject({}) },
  session: { summary: 'Who asks, and what is served', may: 'anyone', answer: sessionView },
  login: {
    summary: 'Read-only view from another machine',
    may: 'anyone',
    body: loginBody,
    answer: sessionView,
  },
  events: {
    summary: 'Live readings, state of the bench and progress of jobs, as server-sent events',
    may: 'look',
    answer: 'text/event-stream',
  },
  takeControl: {
    summary: 'Drive the bench from the event stream named in the header',
    may: 'change',
    body: controlBody,
    answer: benchView,
  },
  releaseControl: { summary: 'Leave the bench to another page', may: 'drive', answer: benchView },

  bench: { summary: 'State of the bench, and the cautions', may: 'look', answer: benchPage },
  ports: { summary: 'Ports that a rig may be behind', may: 'look', answer: portList },
  connect: { summary: 'Connect to a rig', may: 'drive', body: connectBody, answer: benchView },
  reconnect: { summary: 'Connect again after the link was lost', may: 'drive', answer: benchView },
  disconnect: { summary: 'Stop, disarm, close the port', may: 'drive', answer: benchView },
  acknowledge: { summary: 'The cautions were read', may: 'drive', answer: benchView },
  stop: { summary: 'Bridge off and disarm, at once', may: 'change', answer: benchView },
  startTest: { summary: 'Log one test', may: 'drive', body: testBody, answer: benchView },
  startSequence: {
    summary: 'Begin or resume the guided sequence of a motor',
    may: 'drive',
    body: sequenceBody,
    answer: benchView,
  },
  actOnSequence: {
    summary: 'Answer the question of the guided sequence, or move in it',
    may: 'drive',
    body: sequenceAct,
    answer: benchView,
  },
  shortTestPlan: {
    summary:
      'What the short test of a type would do on the connected rig, and how well it would know',
    may: 'look',
    query: shortTestQuery,
    answer: shortTestPlan,
  },
  startShortTest: {
    summary: 'Begin the short test of a sample, a check motor or a trial of a gauge study',
    may: 'drive',
    body: shortTestBody,
    answer: benchView,
  },
  actOnShortTest: {
    summary: 'Say that the shaft is ready, or put the short test away',
    may: 'drive',
    body: shortTestAct,
    answer: benchView,
  },

  motors: {
    summary: 'Motors, found by words in name, type, lot, serial number or notes',
    may: 'look',
    query: z.object({ find: z.string().max(200).default('') }),
    answer: motorList,
  },
  addMotor: { summary: 'Add a motor', may: 'change', body: newMotorBody, answer: motorView },
  motor: {
    summary: 'One motor with its runs and fits',
    may: 'look',
    params: motorKey,
    answer: motorPage,
  },
  changeMotor: {
    summary: 'Rename or annotate a motor',
    may: 'change',
    params: motorKey,
    body: motorChanges,
    answer: motorView,
  },
  deleteMotor: {
    summary: 'Take a motor out of the lists',
    may: 'change',
    params: motorKey,
    answer: null,
  },
  restoreMotor: {
    summary: 'Undo the deletion',
    may: 'change',
    params: motorKey,
    answer: motorView,
  },

  run: {
    summary: 'One run with samples at the fineness of a screen',
    may: 'look',
    params: runKey,
    query: seriesQuery,
    answer: runPage,
  },
  series: {
    summary: 'Samples of a run between two moments, reduced to so many points',
    may: 'look',
    params: runKey,
    query: seriesQuery,
    answer: seriesView,
  },
  changeRun: {
    summary: 'Name, annotate or re-assign a run; exclude samples from fits',
    may: 'change',
    params: runKey,
    body: runChanges,
    answer: runPage.shape.run,
  },
  deleteRun: {
    summary: 'Take a run out of the lists',
    may: 'change',
    params: runKey,
    answer: null,
  },
  restoreRun: { summary: 'Undo the deletion', may: 'change', params: runKey, answer: null },
  recording: {
    summary: 'Every sample as CSV',
    may: 'look',
    params: runKey,
    answer: 'text/csv',
  },

  previewImport: {
    summary: 'Lay a recording in the waiting room (body: the file) and see what it holds',
    may: 'change',
    query: importQuery,
    upload: true,
    answer: importPreview,
  },
  changeImport: {
    summary: 'Look again with other columns',
    may: 'change',
    params: z.object({ import: text }),
    body: importChanges,
    answer: importPreview,
  },
  acceptImport: {
    summary: 'Store a waiting recording as a run',
    may: 'change',
    params: z.object({ import: text }),
    body: importAccept,
    answer: jobView,
  },
  dropImport: {
    summary: 'Forget a waiting recording',
    may: 'change',
    params: z.object({ import: text }),
    answer: null,
  },

  identification: {
    summary: 'What was identified of a motor, and from which runs',
    may: 'look',
    params: motorKey,
    query: z.object({ fit: key.optional(), other: key.optional() }),
    answer: identificationPage,
  },
  startFit: {
    summary: 'Identify the parameters',
    may: 'change',
    params: motorKey,
    body: fitBody,
    answer: jobView,
  },
  job: {
    summary: 'How far a job is',
    may: 'look',
    params: z.object({ job: text }),
    answer: jobView,
  },
  cancelJob: {
    summary: 'Cancel a job',
    may: 'change',
    params: z.object({ job: text }),
    answer: jobView,
  },
  sheet: {
    summary: 'A motor and what its sheet states',
    may: 'look',
    params: motorKey,
    query: z.object({ fit: key.optional() }),
    answer: sheetPage,
  },
  sheetFile: {
    summary: 'The sheet of a motor as a file for print',
    may: 'look',
    params: motorKey.extend({ format: z.enum(['html', 'pdf', 'json', 'csv']) }),
    query: z.object({ paper: z.enum(['a4', 'letter']).default('a4'), fit: key.optional() }),
    answer: 'text/html, application/pdf, application/json or text/csv',
  },
  drivePage: {
    summary: 'The identified motor that a drive is tried on, and what its heating run adds',
    may: 'look',
    params: motorKey,
    query: z.object({ fit: key.optional() }),
    answer: drivePage,
  },
  heat: {
    summary: 'Thermal model and limits from a heating and cooling run of a motor',
    may: 'look',
    params: motorKey,
    query: heatQuery,
    answer: heatPage,
  },
  recognise: {
    summary: 'What kind of motor it is, with the evidence, and a proposed nameplate',
    may: 'look',
    params: motorKey,
    query: recogniseQuery,
    answer: recognisePage,
  },
  withstand: {
    summary: 'What a drive must withstand with this motor (body: the drive)',
    may: 'look',
    params: motorKey,
    query: z.object({ fit: key.optional() }),
    body: driveDocument,
    answer: withstandDocument,
  },
  modelFile: {
    summary: 'The motor to simulate with: SPICE subcircuit, Modelica package or numbers',
    may: 'look',
    params: motorKey.extend({ format: z.enum(MODEL_FORMATS) }),
    query: z.object({ fit: key.optional() }),
    answer: 'text/plain or application/json',
  },
  schema: {
    summary: 'JSON schema of a document that other programs read or write',
    may: 'anyone',
    params: z.object({ name: z.enum(PUBLISHED_NAMES) }),
    answer: z.looseObject({}),
  },

  samples: {
    summary: 'Types and batches; one batch judged against the limits of a type',
    may: 'look',
    query: samplesQuery,
    answer: samplesView,
  },
  addBatch: {
    summary: 'Make a batch for samples of a type',
    may: 'change',
    body: newBatchBody,
    answer: batchAdded,
  },
  refitBatch: {
    summary: 'Identify every sample of a batch anew from its recordings',
    may: 'change',
    params: batchKey,
    body: refitBody,
    answer: jobView,
  },
  batchReport: {
    summary: 'The report on a judged batch as a file',
    may: 'look',
    params: batchKey.extend({ format: z.enum(['html', 'pdf', 'json', 'csv']) }),
    query: ruleQuery,
    answer: 'text/html, application/pdf, application/json or text/csv',
  },
  scanSample: {
    summary: 'Find a sample by its serial number, or add it, and put it into the batch',
    may: 'change',
    params: batchKey,
    body: scanBody,
    answer: scanned,
  },
  setLimits: {
    summary: 'Set new limits from now on',
    may: 'change',
    params: typeKey,
    body: newLimitsBody,
    answer: limitsPage,
  },
  enterByHand: {
    summary: 'Type in a number about a motor that counts in its verdict',
    may: 'change',
    body: handEntryBody,
    answer: null,
  },
  study: {
    summary: 'A gauge study on motors of a type: its trials and what they say',
    may: 'look',
    params: typeKey,
    query: studyQuery,
    answer: studyPage,
  },
  addTrial: {
    summary: 'Count the newest identification of a motor as a trial',
    may: 'change',
    params: typeKey,
    body: trialBody,
    answer: studyPage,
  },
} as const satisfies Record<EndpointName, Endpoint>

export type SessionView = z.infer<typeof sessionView>
export type Problem = z.infer<typeof problem>

type Shape<E, K extends string> =
  E extends Record<K, infer S> ? (S extends z.ZodType ? z.output<S> : undefined) : undefined
export type ParamsOf<N extends EndpointName> = Shape<(typeof ENDPOINTS)[N], 'params'>
export type QueryOf<N extends EndpointName> = Shape<(typeof ENDPOINTS)[N], 'query'>
export type BodyOf<N extends EndpointName> = Shape<(typeof ENDPOINTS)[N], 'body'>
export type AnswerOf<N extends EndpointName> = Shape<(typeof ENDPOINTS)[N], 'answer'>

type Given<E, K extends string> =
  E extends Record<K, infer S> ? (S extends z.ZodType ? z.input<S> : undefined) : undefined
/** As a caller may give it: with defaults left out. */
export type GivenQuery<N extends EndpointName> = Given<(typeof ENDPOINTS)[N], 'query'>
export type GivenBody<N extends EndpointName> = Given<(typeof ENDPOINTS)[N], 'body'>
