import { z } from 'zod'
import { QUANTITIES } from '../records/quantity.ts'
import { TEST_KINDS } from '../records/test-kind.ts'
import { shortTestView } from './http-samples.ts'

/** What the page and other clients see of the bench. SI; null where the rig did not declare it. */

const quantity = z.enum(QUANTITIES)

export const rigView = z.object({
  model: z.string(),
  serialNumber: z.string(),
  firmware: z.string(),
  protocolVersion: z.string(),
  simulated: z.boolean(),
  highestRateHz: z.number(),
  channels: z.array(
    z.object({
      name: z.string(),
      quantity,
      noise: z.number().nullable(),
      rangeLow: z.number().nullable(),
      rangeHigh: z.number().nullable(),
    }),
  ),
  limits: z.object({
    driveVolt: z.number(),
    currentAmp: z.number(),
    busVolt: z.number().nullable(),
    speedRadPerSec: z.number().nullable(),
    stallSec: z.number().nullable(),
    longestDriveSec: z.number(),
    watchdogSec: z.number(),
  }),
})

export const countersView = z.object({
  samples: z.number(),
  samplesLost: z.number(),
  linesRejected: z.number(),
  bytes: z.number(),
})

export const questionView = z.object({
  id: z.string(),
  step: z.string(),
  text: z.string(),
  detail: z.string().nullable(),
  form: z.discriminatedUnion('kind', [
    z.object({ kind: z.literal('acknowledge'), label: z.string() }),
    z.object({ kind: z.literal('confirm'), yes: z.string(), no: z.string() }),
    z.object({
      kind: z.literal('choice'),
      choices: z.array(z.object({ value: z.string(), label: z.string() })),
    }),
    z.object({
      kind: z.literal('number'),
      unit: z.string(),
      minimum: z.number(),
      maximum: z.number(),
      optional: z.boolean(),
    }),
    z.object({ kind: z.literal('text'), maxLength: z.number(), optional: z.boolean() }),
  ]),
  suggested: z.union([z.string(), z.number(), z.boolean()]).nullable(),
  handsNear: z.boolean(),
})

export const sequenceView = z.object({
  motor: z.string(),
  steps: z.array(
    z.object({
      id: z.string(),
      title: z.string(),
      status: z.enum(['to-do', 'current', 'done', 'skipped', 'failed']),
      note: z.string().nullable(),
    }),
  ),
  current: z.string(),
  phase: z.enum([
    'asking',
    'making-safe',
    'testing',
    'waiting',
    'identifying',
    'paused',
    'finished',
  ]),
  operatorDoes: z.string(),
  rigDoes: z.string(),
  question: questionView.nullable(),
  waitLeftSec: z.number().nullable(),
  waitWhy: z.string().nullable(),
  progress: z.number(),
  leftSec: z.number(),
  may: z.object({
    back: z.boolean(),
    repeat: z.boolean(),
    skip: z.boolean(),
    resume: z.boolean(),
  }),
  pausedBecause: z.string().nullable(),
  warnings: z.array(z.string()),
})

export const runningView = z.object({
  runId: z.number().int(),
  kind: z.enum(TEST_KINDS),
  motorId: z.number().int(),
  motor: z.string(),
  /** Milliseconds since 1970 by the server's clock. */
  startedAtMs: z.number(),
  currentLimitAmp: z.number().nullable(),
  durationSec: z.number().nullable(),
})

export const benchView = z.object({
  state: z.enum(['none', 'connecting', 'ready', 'running', 'lost']),
  /** Port as a person calls it; null before one was chosen. */
  port: z.string().nullable(),
  /** What is going on, or what went wrong and what to do next. */
  text: z.string(),
  rig: rigView.nullable(),
  counters: countersView.nullable(),
  /** Null while the samples reach the disk; else the recorder's words. */
  recorderTrouble: z.string().nullable(),
  cautionsAcknowledged: z.boolean(),
  running: runningView.nullable(),
  sequence: sequenceView.nullable(),
  sequenceMotorId: z.number().int().nullable(),
  /** The fit that the last finished sequence led to. */
  sequenceFitId: z.number().int().nullable(),
  /** The short test that is being made, or that was made last. */
  shortTest: shortTestView.nullable(),
  /** Whether some page holds the control. The page itself knows if it is the one. */
  driver: z.string().nullable(),
})

export const cautionsView = z.array(z.object({ title: z.string(), text: z.string() }))

export const benchPage = z.object({ bench: benchView, cautions: cautionsView })

export const portView = z.object({
  path: z.string(),
  label: z.string(),
  simulated: z.boolean(),
  /** Why it may not be opened, where that is known. */
  trouble: z.string().nullable(),
})

export const portList = z.object({ ports: z.array(portView), trouble: z.string().nullable() })

export const connectBody = z.object({
  port: z.string().min(1).max(260),
  baud: z.number().int().min(1200).max(12_000_000).optional(),
})

export const testBody = z.object({
  motor: z.number().int().positive(),
  kind: z.enum(TEST_KINDS),
  voltageVolt: z.number().finite().optional(),
  currentLimitAmp: z.number().positive().optional(),
  durationSec: z.number().positive().max(14_400).optional(),
  ambientCelsius: z.number().min(-60).max(200).optional(),
  /** Heating only: the hottest coil that is allowed. */
  hottestCelsius: z.number().max(220).optional(),
})

export const sequenceBody = z.object({
  motor: z.number().int().positive(),
  resume: z.boolean().default(false),
})

export const sequenceAct = z.discriminatedUnion('act', [
  z.object({
    act: z.literal('answer'),
    questionId: z.string().max(200),
    value: z.union([z.string().max(2000), z.number(), z.boolean()]).nullable(),
  }),
  z.object({ act: z.enum(['back', 'repeat', 'skip', 'resume', 'leave']) }),
])

export type BenchView = z.infer<typeof benchView>
export type BenchPage = z.infer<typeof benchPage>
export type RigView = z.infer<typeof rigView>
export type PortView = z.infer<typeof portView>
export type PortList = z.infer<typeof portList>
export type RunningView = z.infer<typeof runningView>
export type SequenceScreen = z.infer<typeof sequenceView>
export type QuestionScreen = z.infer<typeof questionView>
export type TestBody = z.infer<typeof testBody>
export type SequenceAct = z.infer<typeof sequenceAct>
