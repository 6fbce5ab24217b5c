import { bodyEnd, bodyText, checkFrame } from './frame.ts'
import type { LineFault } from './line-fault.ts'
import { LineSplitter } from './line-splitter.ts'
import { type NumberedRequest, type RequestFault, readRequest } from './request.ts'
import { WIRE } from './wire.ts'

/** Where what a host sends goes. */
export interface HostSink {
  request(request: NumberedRequest): void
  /** Readable, but not something that can be done: to be answered with an error. */
  wrong(fault: Extract<RequestFault, { kind: 'wrong' }>): void
  /** Not readable: no answer, only counted (P-3.7). */
  unreadable(fault: LineFault): void
}

/** The rig's end of the line: bytes in, requests out. */
export class HostReader {
  private readonly splitter: LineSplitter
  private readonly sink: HostSink

  constructor(sink: HostSink) {
    this.sink = sink
    this.splitter = new LineSplitter(
      {
        line: (bytes, start, end) => this.line(bytes, start, end),
        reject: fault => sink.unreadable(fault),
      },
      WIRE.maxRequestBytes,
    )
  }

  push(chunk: Uint8Array): void {
    this.splitter.push(chunk)
  }

  private line(bytes: Uint8Array, start: number, end: number): void {
    const fault = checkFrame(bytes, start, end)
    const body = fault ?? bodyText(bytes, start, bodyEnd(end))
    if (typeof body !== 'string') {
      this.sink.unreadable(body)
      return
    }
    const request = readRequest(body)
    if (request.ok) this.sink.request(request.value)
    else if (request.error.kind === 'wrong') this.sink.wrong(request.error)
    else this.sink.unreadable(request.error.fault)
  }
}
