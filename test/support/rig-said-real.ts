import { openPseudoTerminal } from '../../server/link/pseudo-terminal.ts'
import { type PracticeRig, startPracticeRig } from '../../server/rig-host/start-practice-rig.ts'
import { lineOf } from '../../src/protocol/frame.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'

export interface RigSaidReal {
  /** The serial device to open. */
  readonly path: string
  /** Its shaft, for whoever plays the operator. */
  readonly rig: PracticeRig
  close(): Promise<void>
}

const TAIL_CHARACTERS = 5

/**
 * A practice rig behind a pseudo-terminal whose identity does not say that it is simulated: a program that
 * talks to it takes it for a bench with a real motor, with cautions and prompts. All else passes unchanged.
 */
export async function rigSaidReal(motor: PracticeMotor): Promise<RigSaidReal> {
  const rig = await startPracticeRig({ via: 'in-process', motor, seed: 5, linkPath: null })
  const link = await rig.open()
  const terminal = openPseudoTerminal()
  terminal.onBytes(bytes => void link.send(bytes).catch(() => {}))
  const over = new AbortController()
  const forwarded = (async () => {
    let rest = ''
    for await (const bytes of link.bytes(over.signal)) {
      const lines = (rest + Buffer.from(bytes).toString('latin1')).split('\n')
      rest = lines.pop()!
      for (const line of lines) terminal.write(lineSaidReal(line))
    }
  })()
  return {
    path: terminal.path,
    rig,
    async close() {
      over.abort()
      await link.close()
      await forwarded.catch(() => {})
      terminal.close()
      await rig.close()
    },
  }
}

function lineSaidReal(line: string): Uint8Array {
  return / identity .* simulated=1/.test(line)
    ? lineOf(line.slice(0, -TAIL_CHARACTERS).replace('simulated=1', 'simulated=0'))
    : Buffer.from(`${line}\n`, 'latin1')
}
