import { readFile, stat } from 'node:fs/promises'
import { InputFault } from '../../src/base/faults.ts'
import { printable } from '../../src/base/printable.ts'

/** Why a serial port could not be opened, as one line that says what would help. */
export async function explainOpenFailure(
  path: string,
  baud: number,
  error: Error,
): Promise<InputFault> {
  const shown = printable(path)
  return new InputFault(await sentence(path, shown, baud, error.message), { cause: error })
}

async function sentence(path: string, shown: string, baud: number, cause: string): Promise<string> {
  if (/no such (file|device)|file not found|ENXIO/i.test(cause)) {
    return `port ${shown} does not exist; the page ('rotorfit serve') lists the ports of this computer, and the port 'practice' is a simulated rig`
  }
  if (/lock|busy|access (is )?denied|temporarily unavailable/i.test(cause)) {
    return `port ${shown} is in use by another program; close that program, or choose another port`
  }
  if (/permission|EACCES|not permitted/i.test(cause)) return permissionSentence(path, shown)
  if (/is a directory|inappropriate ioctl|not a (tty|typewriter)/i.test(cause)) {
    return `${shown} is not a serial port; give a device such as /dev/ttyUSB0 or COM3`
  }
  if (/baud/i.test(cause)) {
    return `port ${shown} does not accept ${baud} baud; try 115200, 921600 or 3000000, whichever the rig is set to`
  }
  return `port ${shown} could not be opened: ${printable(cause.replace(/^Error:? */, ''))}`
}

/** On Linux a device file belongs to a group; who is in it may open the port. */
async function permissionSentence(path: string, shown: string): Promise<string> {
  const group = process.platform === 'linux' ? await groupOf(path) : null
  if (group === null) return `port ${shown} may not be opened by this user; ask for the permission`
  return `port ${shown} may not be opened by this user; it belongs to the group ${group}: run 'sudo usermod -aG ${group} $USER', then log out and in again`
}

/** Name of the owning group (dialout on Debian, uucp on Arch, …); null where it would not help. */
async function groupOf(path: string): Promise<string | null> {
  try {
    const { gid, mode } = await stat(path)
    const groupMayWrite = (mode & 0o060) === 0o060
    if (!groupMayWrite || gid === 0) return null
    const entries = (await readFile('/etc/group', 'utf8')).split('\n').map(line => line.split(':'))
    return entries.find(fields => Number(fields[2]) === gid)?.[0] ?? `number ${gid}`
  } catch {
    return null
  }
}
