import { InputFault, MissingFault, StoppedFault, WorkFault } from '../../src/base/faults.ts'
import type { Problem } from '../../src/contract/http.ts'

/** A request that is turned away, with the status that says how. */
export class HttpFault extends Error {
  override readonly name = 'HttpFault'
  readonly status: number
  readonly code: string

  constructor(status: number, code: string, text: string) {
    super(text)
    this.status = status
    this.code = code
  }
}

/** Every error as one line for a person; what is not ours is not told to strangers in detail. */
export function describeFault(error: unknown): { status: number; body: Problem } {
  const answer = (status: number, code: string, text: string) => ({
    status,
    body: { error: { code, text } },
  })
  if (error instanceof HttpFault) return answer(error.status, error.code, error.message)
  if (error instanceof MissingFault) return answer(404, 'not-found', error.message)
  if (error instanceof InputFault) return answer(422, 'input', error.message)
  if (error instanceof StoppedFault) return answer(409, 'stopped', error.message)
  if (error instanceof WorkFault) return answer(503, 'work', error.message)
  const status = (error as { status?: unknown } | null)?.status
  if (status === 413) {
    return answer(413, 'too-large', 'the request is larger than this server takes')
  }
  if (typeof status === 'number' && status >= 400 && status < 500) {
    return answer(status, 'request', 'the request could not be read')
  }
  return answer(500, 'internal', 'the server made a mistake; its terminal says more')
}
