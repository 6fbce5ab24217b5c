import { chmodSync, mkdirSync, realpathSync, rmSync } from 'node:fs'
import { createConnection, createServer } from 'node:net'
import { tmpdir, userInfo } from 'node:os'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { WorkFault } from '../../src/base/faults.ts'
import { type HandAct, readHandAct } from './hand-act.ts'

/**
 * The line of a serial port carries no hands: who clamps and releases the shaft of a rig behind a
 * pseudo-terminal does so through a local socket beside it, found by the device's name. Lines as in
 * `readHandAct`; each is answered `ok` or `error` and words. Only this user can open it.
 */
export interface HandsSocket {
  close(): void
}

export function openHandsSocket(devicePath: string, onHand: (hand: HandAct) => void): HandsSocket {
  const path = socketPath(devicePath)
  rmSync(path, { force: true })
  const server = createServer(socket => {
    const lines = createInterface({ input: socket })
    socket.on('error', () => {})
    lines.on('error', () => {})
    lines.on('line', line => {
      socket.write(`${outcome(line, onHand)}\n`)
    })
  })
  // Without hands the rig still works; whoever needs them is told so when asking.
  server.on('error', () => {})
  server.listen(path)
  server.unref()
  return {
    close() {
      server.close()
      rmSync(path, { force: true })
    },
  }
}

/** Does one thing to the practice rig behind a device. @throws WorkFault where no hands are there. */
export async function doByHand(devicePath: string, line: string): Promise<void> {
  const answer = await new Promise<string>((resolve, reject) => {
    const socket = createConnection(socketPath(devicePath))
    const answers = createInterface({ input: socket })
    // An error of the socket shows on both.
    socket.on('error', reject)
    answers.on('error', reject)
    answers.once('line', text => {
      resolve(text)
      socket.end()
    })
    socket.on('close', () => reject(new Error('the line to the hands closed')))
    socket.write(`${line}\n`)
  }).catch((error: Error) => {
    throw new WorkFault(
      `nobody holds the shaft of the simulated rig at ${devicePath}: type '${line}' where it runs`,
      { cause: error },
    )
  })
  if (answer !== 'ok') throw new WorkFault(answer.replace(/^error /, ''))
}

function outcome(line: string, onHand: (hand: HandAct) => void): string {
  try {
    onHand(readHandAct(line))
    return 'ok'
  } catch (error) {
    return `error ${(error as Error).message}`
  }
}

function socketPath(devicePath: string): string {
  const folder = join(tmpdir(), `rotorfit-hands-${userInfo().uid}`)
  mkdirSync(folder, { recursive: true, mode: 0o700 })
  chmodSync(folder, 0o700)
  const device = realpathSync(devicePath)
  return join(folder, `${device.replaceAll('/', '-').replace(/^-/, '')}.sock`)
}
