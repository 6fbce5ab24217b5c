import { failure, type Result, success } from '../base/result.ts'
import { field, parseFields, parseInteger } from './fields.ts'
import type { LineFault } from './line-fault.ts'
import { WIRE } from './wire.ts'

export const FORMATS = ['decimal', 'block'] as const
export type SampleFormat = (typeof FORMATS)[number]

const AFTER = ['coast', 'brake'] as const
/** What the bridge does when a drive command's time is over. */
export type AfterDrive = (typeof AFTER)[number]

const PLAIN_VERBS = [
  'identify',
  'channels',
  'burst-channels',
  'rates',
  'limits',
  'status',
  'alive',
  'arm',
  'disarm',
  'stop',
  'zero',
] as const

export const VERBS = [...PLAIN_VERBS, 'sampling', 'stream', 'drive', 'burst', 'upload'] as const
export type Verb = (typeof VERBS)[number]

/** What a host asks of a rig (P-4.6). */
export type Request =
  | { readonly verb: (typeof PLAIN_VERBS)[number] }
  | {
      readonly verb: 'sampling'
      readonly periodNs: number
      readonly format: SampleFormat
      /** Bit n set: channel n is in every sample. */
      readonly channelMask: number
    }
  | { readonly verb: 'stream'; readonly on: boolean }
  | DriveRequest
  | {
      readonly verb: 'burst'
      readonly samples: number
      /** How many of them lie before the trigger. */
      readonly before: number
      /** At once, or at the next change of the bridge. */
      readonly trigger: 'now' | 'bridge'
    }
  | { readonly verb: 'upload'; readonly from: number; readonly samples: number }

export interface DriveRequest {
  readonly verb: 'drive'
  readonly mode: 'voltage' | 'coast' | 'brake'
  /** Mean voltage; 0 unless the mode is `voltage`. Sent in millivolts. */
  readonly setVolt: number
  /** Sent in milliseconds, at least one. */
  readonly durationSec: number
  /** Sent in milliamperes. */
  readonly currentLimitAmp: number
  readonly after: AfterDrive
}

export interface NumberedRequest {
  readonly id: number
  readonly request: Request
}

/**
 * A request that cannot be answered is `unreadable`; one that is readable but wrong is answered
 * with the error that `fault` amounts to (P-12.1).
 */
export type RequestFault =
  | { readonly kind: 'unreadable'; readonly fault: LineFault }
  | {
      readonly kind: 'wrong'
      readonly id: number
      readonly verb: string
      readonly fault: LineFault
    }

/** Reads the body of a request, without its checksum. */
export function readRequest(body: string): Result<NumberedRequest, RequestFault> {
  const parts = /^Q ([^ ]+) ([^ ]+)(?: (.*))?$/.exec(body)
  if (!parts || body.endsWith(' ')) {
    const fault: LineFault = { code: 'syntax', field: 'request', received: body.slice(0, 40) }
    return failure({ kind: 'unreadable', fault })
  }
  const id = parseInteger(parts[1]!)
  if (id === null || id < 1 || id > WIRE.maxId) {
    const fault: LineFault = { code: 'not-a-number', field: 'id', received: parts[1]! }
    return failure({ kind: 'unreadable', fault })
  }
  const request = readVerb(parts[2]!, parts[3] ?? '')
  return request.ok
    ? success({ id, request: request.value })
    : failure({ kind: 'wrong', id, verb: parts[2]!, fault: request.error })
}

function readVerb(word: string, rest: string): Result<Request, LineFault> {
  const verb = VERBS.find(v => v === word)
  if (!verb) return failure({ code: 'unknown-word', field: 'verb', received: word, known: VERBS })
  // Stopping is never refused for what else stands in the line (P-8.7).
  if (verb === 'stop' || verb === 'disarm') return success({ verb })
  const parsed = parseFields(rest, 0)
  if (!parsed.ok) return parsed
  const fields = parsed.value
  switch (verb) {
    case 'sampling':
      return fields.finish<Request>(
        {
          verb,
          periodNs: fields.integer('period-ns', 1000, 4_294_967_295),
          format: fields.word('format', FORMATS),
          channelMask: fields.integer('channels', 1, 2 ** WIRE.maxChannels - 1),
        },
        true,
      )
    case 'stream':
      return fields.finish<Request>({ verb, on: fields.word('mode', ['on', 'off']) === 'on' }, true)
    case 'drive': {
      const mode = fields.word('mode', ['voltage', 'coast', 'brake'])
      const setMilliVolt = mode === 'voltage' ? fields.integer('voltage-mv', -1e6, 1e6) : 0
      return fields.finish<Request>(
        {
          verb,
          mode,
          setVolt: setMilliVolt / 1000,
          durationSec: fields.integer('duration-ms', 1, 600_000) / 1000,
          currentLimitAmp: fields.integer('current-ma', 1, 1e6) / 1000,
          after: fields.word('after', AFTER),
        },
        true,
      )
    }
    case 'burst': {
      const samples = fields.integer('samples', 1, 1e6)
      return fields.finish<Request>(
        {
          verb,
          samples,
          before: fields.integer('before', 0, Number.isNaN(samples) ? 0 : samples - 1),
          trigger: fields.word('trigger', ['now', 'bridge']),
        },
        true,
      )
    }
    case 'upload':
      return fields.finish<Request>(
        {
          verb,
          from: fields.integer('from', 0, 1e6),
          samples: fields.integer('samples', 1, 1e6),
        },
        true,
      )
    default:
      return fields.finish<Request>({ verb }, true)
  }
}

/** The body of a request, without its checksum. Throws RangeError on what a line cannot carry. */
export function writeRequest(id: number, request: Request): string {
  if (!Number.isInteger(id) || id < 1 || id > WIRE.maxId) {
    throw new RangeError(`id = ${id}; must be an integer from 1 to ${WIRE.maxId}`)
  }
  const body = ['Q', id, request.verb, ...requestFields(request)].join(' ')
  const check = readRequest(body)
  if (!check.ok) throw new RangeError(`request '${body}'; must be one that a rig can read`)
  return body
}

function requestFields(request: Request): string[] {
  switch (request.verb) {
    case 'sampling':
      return [
        field('period-ns', request.periodNs),
        field('format', request.format),
        field('channels', request.channelMask),
      ]
    case 'stream':
      return [field('mode', request.on ? 'on' : 'off')]
    case 'drive':
      return [
        field('mode', request.mode),
        ...(request.mode === 'voltage' ? [field('voltage-mv', milli(request.setVolt))] : []),
        field('duration-ms', milli(request.durationSec)),
        field('current-ma', milli(request.currentLimitAmp)),
        field('after', request.after),
      ]
    case 'burst':
      return [
        field('samples', request.samples),
        field('before', request.before),
        field('trigger', request.trigger),
      ]
    case 'upload':
      return [field('from', request.from), field('samples', request.samples)]
    default:
      return []
  }
}

/** Thousandths, without a negative zero. */
const milli = (value: number) => Math.round(value * 1000) + 0
