import { onTestFinished } from 'vitest'
import { openPseudoTerminal } from '../../server/link/pseudo-terminal.ts'
import { openHandsSocket } from '../../server/rig-host/hands-socket.ts'
import type { PracticeRig } from '../../server/rig-host/start-practice-rig.ts'

/** A line to a rig with an ear on it: whoever opens `path` talks to the rig, the test hears the rig's clock. */
export interface TappedRig {
  readonly path: string
  /** Rig time of the newest sample line that has passed to the host, microseconds. */
  readonly passedUs: number
  /** Bridge events as the rig sends them, whether they pass or not. */
  readonly bridge: readonly { readonly timeUs: number; readonly mode: string }[]
  /** From now on nothing of what the rig sends passes; what the host sends still does. */
  deafen(): void
}

/** @param rig without hands where nobody has to hold its shaft */
export async function tapRig(
  rig: Pick<PracticeRig, 'open'> & Partial<Pick<PracticeRig, 'do'>>,
): Promise<TappedRig> {
  const link = await rig.open()
  const terminal = openPseudoTerminal()
  const leaving = new AbortController()
  const bridge: { timeUs: number; mode: string }[] = []
  let passedUs = Number.NaN
  let passes = true
  let held = ''

  const hear = (chunk: Uint8Array) => {
    const lines = (held + Buffer.from(chunk).toString('latin1')).split('\n')
    held = lines.pop()!
    for (const line of lines) {
      const sample = /^[BS] \d+ (\d+)/.exec(line)
      if (sample && passes) passedUs = Number(sample[1])
      const edge = /^E \d+ (\d+) bridge mode=([a-z]+)/.exec(line)
      if (edge) bridge.push({ timeUs: Number(edge[1]), mode: edge[2]! })
    }
  }
  const relay = async () => {
    for await (const chunk of link.bytes(leaving.signal)) {
      hear(chunk)
      if (passes) terminal.write(chunk.slice())
    }
  }
  terminal.onBytes(bytes => void link.send(bytes.slice()).catch(() => {}))
  const hands = openHandsSocket(terminal.path, hand => void rig.do?.(hand))
  const relaying = relay().catch(() => {})
  onTestFinished(async () => {
    leaving.abort()
    await relaying
    await link.close()
    hands.close()
    terminal.close()
  })
  return {
    path: terminal.path,
    get passedUs() {
      return passedUs
    },
    bridge,
    deafen: () => {
      passes = false
    },
  }
}
