import { failure, type Result, success } from '../base/result.ts'
import { field, parseFields, parseInteger } from './fields.ts'
import type { LineFault } from './line-fault.ts'
import { WIRE } from './wire.ts'

/** Why a rig refused a request (P-12.2). */
export const ERROR_CODES = [
  'unknown-verb',
  'missing-key',
  'unknown-key',
  'bad-value',
  'over-limit',
  'not-armed',
  'not-now',
  'too-fast',
  'unsafe',
  'no-data',
  'not-fitted',
] as const
export type ErrorCode = (typeof ERROR_CODES)[number]

export type Answer = AnswerOk | AnswerError

/** `timeUs` is when the request was carried out; the rest only where the verb gives it (P-4.7). */
export interface AnswerOk {
  readonly kind: 'ok'
  readonly id: number
  readonly timeUs: number
  /** Declaration lines that went before. */
  readonly lines: number | null
  /** Stream on: counter of the first sample. Stream off: counter that the next would have had. */
  readonly sequence: number | null
  /** Stream off: samples that the rig could not send since stream on. */
  readonly dropped: number | null
  /** Upload: samples that follow. */
  readonly samples: number | null
}

export interface AnswerError {
  readonly kind: 'error'
  readonly id: number
  readonly code: ErrorCode
  /** For a person. */
  readonly words: string
}

export const okAnswer = (
  id: number,
  timeUs: number,
  more: Partial<Omit<AnswerOk, 'kind' | 'id' | 'timeUs'>> = {},
): AnswerOk => ({
  kind: 'ok',
  id,
  timeUs,
  lines: null,
  sequence: null,
  dropped: null,
  samples: null,
  ...more,
})

const U32 = 4_294_967_295

/** Reads the body of an answer, `A id OK …` or `A id ERR code words`. */
export function readAnswer(body: string): Result<Answer, LineFault> {
  const parts = /^A ([^ ]+) (OK|ERR) (.*)$/.exec(body)
  if (!parts) return failure({ code: 'syntax', field: 'answer', received: body.slice(0, 40) })
  const id = parseInteger(parts[1]!)
  if (id === null || id < 1 || id > WIRE.maxId) {
    return failure({ code: 'not-a-number', field: 'id', received: parts[1]! })
  }
  if (parts[2] === 'ERR') {
    const [received = ''] = parts[3]!.split(' ', 1)
    const code = ERROR_CODES.find(c => c === received)
    return code
      ? success({ kind: 'error', id, code, words: parts[3]!.slice(code.length + 1) })
      : failure({ code: 'unknown-word', field: 'error code', received, known: ERROR_CODES })
  }
  const parsed = parseFields(parts[3]!, 0)
  if (!parsed.ok) return parsed
  const fields = parsed.value
  const counter = (key: string) => fields.integer(key, 0, U32)
  return fields.finish<Answer>({
    kind: 'ok',
    id,
    timeUs: counter('time-us'),
    lines: fields.optional<number | null>('lines', counter, null),
    sequence: fields.optional<number | null>('sequence', counter, null),
    dropped: fields.optional<number | null>('dropped', counter, null),
    samples: fields.optional<number | null>('samples', counter, null),
  })
}

export function writeAnswer(answer: Answer): string {
  if (answer.kind === 'error') {
    return `A ${answer.id} ERR ${answer.code} ${answer.words.replace(/[^ -~]|\*/g, '?')}`
  }
  const parts = [`A ${answer.id} OK`, field('time-us', answer.timeUs)]
  for (const key of ['lines', 'sequence', 'dropped', 'samples'] as const) {
    const value = answer[key]
    if (value !== null) parts.push(field(key, value))
  }
  return parts.join(' ')
}
