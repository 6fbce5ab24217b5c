import { connectBench } from '../session/connect.ts'
import type { BenchSession } from '../session/bench-session.ts'
import type { Store } from '../store/store.ts'
import type { SimulatedHands } from '../session/sequence-runner.ts'
import { doByHand } from '../rig-host/hands-socket.ts'
import { loadPracticeMotor } from '../rig-host/motor-file.ts'
import { PRACTICE_PORT, startPracticeRig } from '../rig-host/start-practice-rig.ts'
import { DEFAULT_BAUD, openSerialLink } from '../link/serial-link.ts'
import type { LinkOpener } from '../link/link.ts'
import { openRecorder } from '../recorder/open-recorder.ts'
import type { CommandContext } from './context.ts'

export interface PortChoice {
  readonly port: string
  readonly baud?: number
  /** For the practice rig behind `--port practice`. */
  readonly motorFile?: string
  readonly seed?: number
}

export interface BenchConnection {
  readonly session: BenchSession
  /** Clamps the shaft where the rig is simulated; null where a person does. */
  readonly hands: SimulatedHands | null
  close(): Promise<void>
}

/** Opens the way to a rig: a serial port, or the practice rig in a thread. */
export async function openWay(choice: PortChoice): Promise<{
  open: LinkOpener
  hands: SimulatedHands
  close(): Promise<void>
}> {
  if (choice.port === PRACTICE_PORT) {
    const rig = await startPracticeRig({
      via: 'in-process',
      motor: await loadPracticeMotor(choice.motorFile ?? null),
      seed: choice.seed ?? 1,
      linkPath: null,
    })
    return { open: () => rig.open(), hands: rig, close: () => rig.close() }
  }
  return {
    open: () => openSerialLink(choice.port, choice.baud ?? DEFAULT_BAUD),
    hands: {
      setShaft: (shaft, angleRad) =>
        doByHand(choice.port, shaft === 'free' ? 'shaft free' : `shaft locked ${angleRad ?? 0}`),
    },
    close: async () => {},
  }
}

/** Connects to a rig, ready to log into a store. */
export async function connectToBench(
  context: CommandContext,
  choice: PortChoice,
  store: Store,
): Promise<BenchConnection> {
  const way = await openWay(choice)
  const recorder = await openRecorder({ file: store.file })
  const close = async () => {
    await recorder.close()
    await way.close()
  }
  try {
    const session = await connectBench({
      open: way.open,
      recorder: recorder.begin,
      signal: context.interrupted,
      onEvent: event => {
        if (event.type === 'link' && event.state !== 'ready') context.say(event.text)
      },
    })
    const { model, serialNumber, simulated } = session.rig
    context.say(`rig: ${model}, serial number ${serialNumber}${simulated ? ' (simulated)' : ''}`)
    sayExpired(context, store, serialNumber)
    return {
      session,
      hands: simulated ? way.hands : null,
      close: async () => {
        await session.close()
        await close()
      },
    }
  } catch (error) {
    await close()
    throw error
  }
}

/** Calibrations that are in force although their date has passed. */
function sayExpired(context: CommandContext, store: Store, rigSerialNumber: string): void {
  const bench = store.benches.ofRig(rigSerialNumber)
  if (!bench) return
  const now = new Date().toISOString()
  for (const { channel, validUntil } of store.calibrations.inForce(bench.id, now)) {
    if (validUntil !== null && validUntil < now) {
      context.say(
        `warning: the calibration of '${channel}' expired on ${validUntil.slice(0, 10)}; calibrate it again`,
      )
    }
  }
}
