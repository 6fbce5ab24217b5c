import { WIRE } from './wire.ts'

/** Why a line was not accepted, with the evidence. */
export type LineFault =
  | { readonly code: 'too-long'; readonly bytes: number }
  | { readonly code: 'truncated'; readonly bytes: number }
  | { readonly code: 'character'; readonly at: number; readonly byte: number }
  | { readonly code: 'no-checksum' }
  | { readonly code: 'checksum'; readonly expected: string; readonly received: string }
  | { readonly code: 'kind'; readonly received: string }
  | { readonly code: 'syntax'; readonly field: string; readonly received: string }
  | { readonly code: 'field-count'; readonly expected: number; readonly received: number }
  | { readonly code: 'not-a-number'; readonly field: string; readonly received: string }
  | {
      readonly code: 'out-of-range'
      readonly field: string
      readonly received: number
      readonly low: number
      readonly high: number
    }
  | { readonly code: 'missing-key'; readonly key: string }
  | { readonly code: 'repeated-key'; readonly key: string }
  | { readonly code: 'unknown-key'; readonly key: string }
  | {
      readonly code: 'unknown-word'
      readonly field: string
      readonly received: string
      readonly known: readonly string[]
    }
  | { readonly code: 'payload'; readonly words: number; readonly characters: number }
  | { readonly code: 'no-layout' }

export type LineFaultCode = LineFault['code']

/** A line that was not accepted, counted from 1 since the port was opened, and made safe to show. */
export interface LineError {
  readonly lineNumber: number
  readonly raw: string
  readonly fault: LineFault
}

/** One line for a person: what is wrong and what would be right. */
export function faultText(fault: LineFault): string {
  switch (fault.code) {
    case 'too-long':
      return `${fault.bytes} bytes without a line end; a line has at most ${WIRE.maxLineBytes}`
    case 'truncated':
      return `the stream ended after ${fault.bytes} bytes of a line`
    case 'character':
      return `byte 0x${fault.byte.toString(16).padStart(2, '0')} at column ${fault.at + 1}; a line holds printable ASCII only`
    case 'no-checksum':
      return 'no checksum; a line ends with * and four upper-case hexadecimal digits'
    case 'checksum':
      return `checksum ${fault.received}; the line as received has ${fault.expected}`
    case 'kind':
      return `unknown kind of line '${fault.received}'`
    case 'syntax':
      return `${fault.field}: cannot read '${fault.received}'`
    case 'field-count':
      return `${fault.received} fields; must have ${fault.expected}`
    case 'not-a-number':
      return `${fault.field}: '${fault.received}' is not a number of the form asked for`
    case 'out-of-range':
      return `${fault.field} = ${fault.received}; must be from ${fault.low} to ${fault.high}`
    case 'missing-key':
      return `${fault.key} is missing`
    case 'repeated-key':
      return `${fault.key} stands there twice`
    case 'unknown-key':
      return `${fault.key} does not belong here`
    case 'unknown-word':
      return `${fault.field}: '${fault.received}' is not one of ${fault.known.join(', ')}`
    case 'payload':
      return `${fault.characters} base64 characters do not hold exactly ${fault.words} 16-bit counts`
    case 'no-layout':
      return 'samples before the channels were agreed'
    default:
      return fault satisfies never
  }
}
