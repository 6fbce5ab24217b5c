import { createInterface } from 'node:readline/promises'
import type { CommandContext } from './context.ts'

const PROGRESS_EVERY_MS = 100
const PROGRESS_LINE_EVERY_MS = 2000

/** The command context of a real process: its streams and signals. */
export function terminalContext(process: NodeJS.Process): CommandContext {
  const isTerminal = process.stderr.isTTY === true
  const interrupt = new AbortController()
  let progressShown = false
  let progressAt = 0

  const interactive = process.stdin.isTTY === true && isTerminal
  const keys = keyboard(process.stdin, () => onSignal('SIGINT'))

  const clearProgress = () => {
    if (progressShown) process.stderr.write('\r\u001b[2K')
    progressShown = false
  }
  const onSignal = (signal: NodeJS.Signals) => {
    if (interrupt.signal.aborted) process.exit(3)
    interrupt.abort(new Error(`stopped by ${signal}`))
  }
  process.on('SIGINT', onSignal)
  process.on('SIGTERM', onSignal)
  process.on('SIGHUP', onSignal)
  // A reader that has seen enough (a pager, `head`) is no failure.
  process.stdout.on('error', (error: NodeJS.ErrnoException) => {
    if (error.code !== 'EPIPE') throw error
  })

  return {
    out: text => {
      clearProgress()
      process.stdout.write(text)
    },
    say: line => {
      clearProgress()
      process.stderr.write(`${line}\n`)
    },
    progress: (fraction, text) => {
      const now = Date.now()
      if (
        now - progressAt < (isTerminal ? PROGRESS_EVERY_MS : PROGRESS_LINE_EVERY_MS) &&
        fraction < 1
      )
        return
      progressAt = now
      const line = `${String(Math.round(100 * fraction)).padStart(3)} % ${text}`
      if (isTerminal) {
        process.stderr.write(`\r\u001b[2K${line.slice(0, (process.stderr.columns ?? 80) - 1)}`)
        progressShown = true
      } else process.stderr.write(`${line}\n`)
    },
    env: process.env,
    interactive,
    ask: async prompt => {
      clearProgress()
      keys.pause()
      const lines = createInterface({ input: process.stdin, output: process.stderr })
      try {
        return await lines.question(prompt, { signal: interrupt.signal })
      } catch (error) {
        if (interrupt.signal.aborted) return ''
        throw error
      } finally {
        lines.close()
        keys.resume()
      }
    },
    onKey: listener => (interactive ? keys.listen(listener) : () => {}),
    inputLines: () => createInterface({ input: process.stdin, signal: interrupt.signal }),
    interrupted: interrupt.signal,
  }
}

const INTERRUPT_KEY = 3

/** Single keys of a terminal: raw while somebody listens and nothing is asked. */
function keyboard(stdin: NodeJS.ReadStream, onInterrupt: () => void) {
  let listener: (() => void) | null = null
  const onData = (bytes: Buffer) => {
    if (bytes[0] === INTERRUPT_KEY) onInterrupt()
    else listener?.()
  }
  const resume = () => {
    if (listener === null) return
    stdin.setRawMode(true)
    stdin.on('data', onData)
    stdin.resume()
  }
  const pause = () => {
    if (listener === null) return
    stdin.off('data', onData)
    stdin.setRawMode(false)
    stdin.pause()
  }
  return {
    pause,
    resume,
    listen: (onKey: () => void) => {
      listener = onKey
      resume()
      return () => {
        pause()
        listener = null
      }
    },
  }
}
