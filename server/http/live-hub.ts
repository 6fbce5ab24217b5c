import { randomUUID } from 'node:crypto'
import type { ServerResponse } from 'node:http'
import type { BenchView } from '../../src/contract/http-bench.ts'
import type { PageEvent } from '../../src/contract/page-event.ts'

/** What one client may leave unread before live readings are left out for it, and before it is let go. */
const SKIP_BYTES = 512 * 1024
const CLOSE_BYTES = 4 * 1024 * 1024
/** A comment now and then finds out that a client has gone without saying so. */
const HEARTBEAT_MS = 5_000

export interface LiveHub {
  /** Begins a stream on a response; resolves to its name through the `hello` event. */
  open(response: ServerResponse, bench: BenchView): string
  send(event: PageEvent): void
  has(stream: string): boolean
  readonly streamCount: number
  /** Ends every stream. */
  close(): void
}

interface Client {
  readonly response: ServerResponse
  missed: number
}

/** Server-sent events to every page, none of which can slow down the bench or the others. */
export function createLiveHub(onGone: (stream: string) => void): LiveHub {
  const clients = new Map<string, Client>()
  const heartbeat = setInterval(() => {
    for (const client of clients.values()) client.response.write(':\n\n')
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

  return {
    open(response, bench) {
      const stream = randomUUID()
      response.writeHead(200, {
        'Content-Type': 'text/event-stream',
        'Cache-Control': 'no-store',
        Connection: 'keep-alive',
      })
      response.write(`retry: 1000\n\n${frame({ type: 'hello', stream, bench })}`)
      clients.set(stream, { response, missed: 0 })
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
