import { readSync } from 'node:fs'
import { setImmediate as turn } from 'node:timers/promises'
import type { SerialPort } from 'serialport'

type Binding = NonNullable<SerialPort['port']>
type Read = Binding['read']

/**
 * Has an open port read on this thread. The binding hands every read to a pool of four threads, and a read of
 * nothing as well: on a busy line that costs more than all that is done with the bytes, and behind a slow disk
 * it waits. The descriptor of a POSIX port never blocks. Whatever it does not bring, faults included, and
 * every port of another kind is left to the binding's own read.
 */
export function readPromptly(binding: Binding): void {
  if (!('poller' in binding)) return
  const { poller } = binding
  const readOwn: Read = binding.read.bind(binding)
  const promptly: Read = async (buffer, offset, length) => {
    // A port that is never empty must not keep timers and other links waiting.
    await turn()
    let bytesRead = readNow(binding.fd, buffer, offset, length)
    if (bytesRead === 0 && binding.isOpen) {
      await new Promise<void>((resolve, reject) =>
        poller.once('readable', error => (error ? reject(error) : resolve())),
      )
      bytesRead = readNow(binding.fd, buffer, offset, length)
    }
    return bytesRead > 0 ? { buffer, bytesRead } : readOwn(buffer, offset, length)
  }
  binding.read = promptly
}

/** Bytes that were there. */
function readNow(fd: number | null, buffer: Buffer, offset: number, length: number): number {
  if (fd === null) return 0
  try {
    return readSync(fd, buffer, offset, length, null)
  } catch {
    return 0
  }
}
