import type { AnswerError, ErrorCode } from '../../protocol/answer.ts'
import { faultText, type LineFault } from '../../protocol/line-fault.ts'

/** Longest words of an error (P-12.3). */
const MOST_WORDS = 80

export function refusal(id: number, code: ErrorCode, words: string): AnswerError {
  return { kind: 'error', id, code, words: words.slice(0, MOST_WORDS) }
}

/** The error that a wrong but readable request amounts to (P-12.2). */
export function refusalOf(id: number, fault: LineFault): AnswerError {
  return refusal(id, codeOf(fault), faultText(fault))
}

function codeOf(fault: LineFault): ErrorCode {
  switch (fault.code) {
    case 'missing-key':
      return 'missing-key'
    case 'unknown-key':
    case 'repeated-key':
    case 'syntax':
      return 'unknown-key'
    case 'unknown-word':
      return fault.field === 'verb' ? 'unknown-verb' : 'bad-value'
    default:
      return 'bad-value'
  }
}
