import { randomUUID } from 'node:crypto'
import type { ServerResponse } from 'node:http'
import type { BenchView } from '../../src/contract/http-bench.ts'
import type { PageEvent } from '../../src/contract/page-event.ts'

/** What one client may leave unread before live readings are left out for it, and before it is let go. */
const SKIP_BYTES = 512 * 1024
const CLOSE_BYTES = 4 * 1024 * 1024
/** A word now and then finds out that the other end has gone without saying so, here and there. */
const HEARTBEAT_MS = 5_000
/**
 * A browser keeps six connections to one host, and a stream holds one for as long as its page is open:
 * two stay free, so that stop is never held up by pages that look on.
 */
const STREAMS_A_BROWSER = 4

export interface LiveHub {
  /**
   * Begins a stream on a response; its name is in the `hello` event. Where the same browser holds many,
   * the oldest that may rest is told to. `browser` is null for what is none.
   */
  open(
    response: ServerResponse,
    bench: BenchView,
    browser: string | null,
    mayRest: (stream: string) => boolean,
  ): string
  send(event: PageEvent): void
  has(stream: string): boolean
  readonly streamCount: number
  /** Ends every stream. */
  close(): void
}

interface Client {
  readonly response: ServerResponse
  readonly browser: string | null
  missed: number
}

/** Server-sent events to every page, none of which can slow down the bench or the others. */
export function createLiveHub(onGone: (stream: string) => void): LiveHub {
  const clients = new Map<string, Client>()
  const heartbeat = setInterval(() => {
    for (const client of clients.values()) client.response.write(frame({ type: 'beat' }))
  }, HEARTBEAT_MS)
  heartbeat.unref()

  function write(client: Client, text: string, mayBeLeftOut: boolean) {
    const waiting = client.response.writableLength
    if (waiting > CLOSE_BYTES) {
      client.response.destroy()
      return
    }
    if (mayBeLeftOut && waiting > SKIP_BYTES) {
      client.missed += 1
      return
    }
    if (client.missed > 0) {
      client.response.write(frame({ type: 'missed', count: client.missed }))
      client.missed = 0
    }
    client.response.write(text)
  }

  /** Makes room for one more stream of a browser. */
  function makeRoom(browser: string, mayRest: (stream: string) => boolean) {
    const own = [...clients].filter(([, client]) => client.browser === browser)
    const surplus = Math.max(0, own.length + 1 - STREAMS_A_BROWSER)
    for (const [stream, client] of own.filter(([stream]) => mayRest(stream)).slice(0, surplus)) {
      clients.delete(stream)
      client.response.end(frame({ type: 'rest' }))
    }
  }

  return {
    open(response, bench, browser, mayRest) {
      if (browser !== null) makeRoom(browser, mayRest)
      const stream = randomUUID()
      response.writeHead(200, {
        'Content-Type': 'text/event-stream',
        'Cache-Control': 'no-store',
        Connection: 'keep-alive',
      })
      response.write(`retry: 1000\n\n${frame({ type: 'hello', stream, bench })}`)
      clients.set(stream, { response, browser, missed: 0 })
      response.on('close', () => {
        clients.delete(stream)
        onGone(stream)
      })
      return stream
    },
    send(event) {
      if (clients.size === 0) return
      const text = frame(event)
      const mayBeLeftOut = event.type === 'live' && event.event.type === 'envelope'
      for (const client of clients.values()) write(client, text, mayBeLeftOut)
    },
    has: stream => clients.has(stream),
    get streamCount() {
      return clients.size
    },
    close() {
      clearInterval(heartbeat)
      for (const client of clients.values()) client.response.end()
    },
  }
}

/** JSON has no line breaks of its own, so one data line is enough. */
const frame = (event: PageEvent) => `data: ${JSON.stringify(event)}\n\n`
