import { HttpFault } from './http-fault.ts'

/**
 * Who drives: at most one event stream. When that stream ends, whatever the reason, the motor is
 * stopped; a page's own timers are never relied on.
 */
export interface Control {
  readonly driver: string | null
  /** Takes the control for a stream. Refused while another drives, unless it takes over an idle bench. */
  take(stream: string, takeOver: boolean, busy: boolean): void
  /** Passes where the stream drives; takes a control that nobody holds. */
  require(stream: string): void
  release(stream: string): void
}

export function createControl(
  exists: (stream: string) => boolean,
  onChange: () => void,
): Control & { gone(stream: string): boolean } {
  let driver: string | null = null
  const set = (stream: string | null) => {
    if (driver === stream) return
    driver = stream
    onChange()
  }
  const mustExist = (stream: string) => {
    if (!exists(stream)) {
      throw new HttpFault(
        409,
        'no-stream',
        'this page is not connected to the live stream; wait until it is, then try again',
      )
    }
  }
  return {
    get driver() {
      return driver
    },
    take(stream, takeOver, busy) {
      mustExist(stream)
      if (driver !== null && driver !== stream && (!takeOver || busy)) {
        throw new HttpFault(
          409,
          'driven',
          busy
            ? 'another page drives the bench and a test is running; stop it, or wait for its end'
            : 'another page drives the bench; close it there, or take over here',
        )
      }
      set(stream)
    },
    require(stream) {
      mustExist(stream)
      if (driver !== null && driver !== stream) {
        throw new HttpFault(
          409,
          'driven',
          'another page drives the bench; close it there, or take over here',
        )
      }
      set(stream)
    },
    release(stream) {
      if (driver === stream) set(null)
    },
    /** The stream ended: true where it was the one that drove. */
    gone(stream) {
      const drove = driver === stream
      if (drove) set(null)
      return drove
    },
  }
}
