import { failure, type Result, success } from '../base/result.ts'
import { type Answer, readAnswer, writeAnswer } from './answer.ts'
import {
  DECLARATION_NAMES,
  type Declaration,
  readDeclaration,
  writeDeclaration,
} from './declaration.ts'
import { EVENT_NAMES, type RigEvent, readEvent, writeEvent } from './event.ts'
import { parseFields, parseInteger } from './fields.ts'
import type { LineFault } from './line-fault.ts'
import { WIRE } from './wire.ts'

/** What a rig sends, samples aside. */
export type RigMessage =
  | { readonly kind: 'answer'; readonly answer: Answer }
  /** `id` is that of the request which it belongs to. */
  | { readonly kind: 'declaration'; readonly id: number; readonly declaration: Declaration }
  | {
      readonly kind: 'event'
      /** Counts events, wraps (P-7.2). */
      readonly sequence: number
      readonly timeUs: number
      readonly event: RigEvent
    }

const U32 = 4_294_967_295

/** Reads the body of a line that is not samples. */
export function readRigMessage(body: string): Result<RigMessage, LineFault> {
  switch (body[0]) {
    case 'A': {
      const answer = readAnswer(body)
      return answer.ok ? success({ kind: 'answer', answer: answer.value }) : answer
    }
    case 'D': {
      const parts = /^D ([^ ]+) ([^ ]+) (.*)$/.exec(body)
      if (!parts) return syntax('declaration', body)
      const id = parseInteger(parts[1]!)
      if (id === null || id < 1 || id > WIRE.maxId) return notANumber('id', parts[1]!)
      const name = DECLARATION_NAMES.find(n => n === parts[2])
      if (!name) return unknownWord('declaration', parts[2]!, DECLARATION_NAMES)
      const fields = parseFields(parts[3]!, 0)
      if (!fields.ok) return fields
      const declaration = readDeclaration(name, fields.value)
      return declaration.ok
        ? success({ kind: 'declaration', id, declaration: declaration.value })
        : declaration
    }
    case 'E': {
      const parts = /^E ([^ ]+) ([^ ]+) ([^ ]+) (.*)$/.exec(body)
      if (!parts) return syntax('event', body)
      const sequence = counter(parts[1]!)
      if (sequence === null) return notANumber('sequence', parts[1]!)
      const timeUs = counter(parts[2]!)
      if (timeUs === null) return notANumber('time', parts[2]!)
      const name = EVENT_NAMES.find(n => n === parts[3])
      if (!name) return unknownWord('event', parts[3]!, EVENT_NAMES)
      const fields = parseFields(parts[4]!, 0)
      if (!fields.ok) return fields
      const event = readEvent(name, fields.value)
      return event.ok ? success({ kind: 'event', sequence, timeUs, event: event.value }) : event
    }
    default:
      return failure({ code: 'kind', received: body.slice(0, 1) })
  }
}

/** The body of a message, without its checksum. */
export function writeRigMessage(message: RigMessage): string {
  switch (message.kind) {
    case 'answer':
      return writeAnswer(message.answer)
    case 'declaration':
      return `D ${message.id} ${writeDeclaration(message.declaration)}`
    case 'event':
      return `E ${message.sequence} ${message.timeUs} ${writeEvent(message.event)}`
    default:
      return message satisfies never
  }
}

function counter(text: string): number | null {
  const value = parseInteger(text)
  return value !== null && value >= 0 && value <= U32 ? value : null
}

const syntax = (field: string, body: string) =>
  failure<LineFault>({ code: 'syntax', field, received: body.slice(0, 40) })

const notANumber = (field: string, received: string) =>
  failure<LineFault>({ code: 'not-a-number', field, received })

const unknownWord = (field: string, received: string, known: readonly string[]) =>
  failure<LineFault>({ code: 'unknown-word', field, received, known })
