import type { AnswerOf, GivenBody, GivenQuery, Problem } from '../src/contract/http.ts'
import {
  type EndpointName,
  fillPath,
  PAGE_HEADER,
  PATHS,
  STREAM_HEADER,
} from '../src/contract/http-paths.ts'

/** What went wrong, in words for the person at the page. */
export class CallFault extends Error {
  readonly code: string
  constructor(code: string, text: string) {
    super(text)
    this.code = code
  }
}

export interface Given<N extends EndpointName> {
  readonly params?: Readonly<Record<string, string | number>>
  readonly query?: GivenQuery<N>
  readonly body?: GivenBody<N>
  readonly file?: Blob
  readonly signal?: AbortSignal
}

let stream = ''
/** Told by the live stream: requests that drive the bench name it. */
export function setStream(name: string): void {
  stream = name
}
export const streamName = (): string => stream

export function addressOf<N extends EndpointName>(name: N, given: Given<N> = {}): string {
  const query = new URLSearchParams()
  for (const [key, value] of Object.entries(given.query ?? {})) {
    if (value !== undefined && value !== null) query.set(key, String(value))
  }
  const text = query.toString()
  return fillPath(name, given.params ?? {}) + (text === '' ? '' : `?${text}`)
}

/** Calls the API by name. Rejects with a `CallFault` whose message can be shown as it is. */
export async function call<N extends EndpointName>(
  name: N,
  given: Given<N> = {},
): Promise<AnswerOf<N>> {
  const { method } = PATHS[name]
  const headers: Record<string, string> = {}
  if (method !== 'GET') {
    headers[PAGE_HEADER] = '1'
    headers[STREAM_HEADER] = stream
  }
  if (given.body !== undefined) headers['Content-Type'] = 'application/json'
  let response: Response
  try {
    response = await fetch(addressOf(name, given), {
      method,
      headers,
      body: given.file ?? (given.body === undefined ? null : JSON.stringify(given.body)),
      signal: given.signal ?? null,
      credentials: 'same-origin',
    })
  } catch (error) {
    if (given.signal?.aborted) throw error
    throw new CallFault(
      'unreachable',
      'The server does not answer. Look at its terminal; if it has ended, start it again.',
    )
  }
  if (response.status === 204) return null as unknown as AnswerOf<N>
  const answer: unknown = await response.json().catch(() => null)
  if (!response.ok) {
    const problem = (answer as Problem | null)?.error
    throw new CallFault(
      problem?.code ?? 'unknown',
      problem ? sentence(problem.text) : `The server answered ${response.status}.`,
    )
  }
  return answer as AnswerOf<N>
}

const sentence = (text: string) =>
  text.charAt(0).toUpperCase() + text.slice(1) + (/[.!?]$/.test(text) ? '' : '.')
