import { SerialPort } from 'serialport'
import { printable } from '../../src/base/printable.ts'
import type { PortList, PortView } from '../../src/contract/http-bench.ts'
import { PRACTICE_PORT } from '../rig-host/start-practice-rig.ts'

const PRACTICE: PortView = {
  path: PRACTICE_PORT,
  label: 'Practice rig',
  simulated: true,
  trouble: null,
}

/** Serial ports of this computer, and the practice rig. `known` is one that was named at the start. */
export async function listPorts(known: string | null): Promise<PortList> {
  const named = known === null || known === PRACTICE_PORT ? [] : [portOf(known, undefined)]
  try {
    const found = (await SerialPort.list())
      // Boards' own serial ports are listed on Linux whether or not anything is there.
      .filter(port => port.vendorId !== undefined || !/ttyS\d+$/.test(port.path))
      .filter(port => port.path !== known)
      .map(port => portOf(port.path, port.manufacturer))
    return { ports: [...named, ...found, PRACTICE], trouble: null }
  } catch (error) {
    return { ports: [...named, PRACTICE], trouble: explain(error as NodeJS.ErrnoException) }
  }
}

function portOf(path: string, maker: string | undefined): PortView {
  const name = path.split(/[\\/]/).at(-1)!
  return {
    path,
    label: printable(maker ? `${name}, ${maker}` : name, 80),
    simulated: false,
    trouble: null,
  }
}

function explain(error: NodeJS.ErrnoException): string {
  return error.code === 'ENOENT'
    ? "This system's list of ports cannot be read (udevadm is missing); type the port's path below."
    : `The ports could not be listed: ${printable(error.message)}`
}
