import { InputFault } from '../../../src/base/faults.ts'
import { WIRE } from '../../../src/protocol/wire.ts'
import { ask, declared, type RigUnderCheck } from '../rig-under-check.ts'

/** Finds the rig (P-10.2) and reads who it is. @throws InputFault where nothing answers as a rig. */
export async function checkIdentity(rig: RigUnderCheck, where: string): Promise<void> {
  const { line, judge } = rig
  await line.sendRaw('\n')
  const until = line.nowMs() + WIRE.identifyForMs
  let first = await line.ask('identify')
  while (first === null && line.nowMs() < until) first = await line.ask('identify')
  // A rig that is just starting is deaf: what it did not hear needs no answer.
  line.asked.length = 0
  if (first === null || declared(first, 'identity').length === 0) {
    throw new InputFault(
      `nothing at ${where} answers 'identify' as firmware-protocol.md asks; check port and baud rate`,
    )
  }
  await ask(rig, 'disarm')
  await ask(rig, 'stream mode=off')
  const found = await ask(rig, 'identify')
  if (found === null) return
  const raw = found.declarations[0]?.line.raw ?? found.line.raw
  const lines = declared(found, 'identity')
  judge.expect('P-5.2', lines.length === 1, `${lines.length} identity lines; must be one`, raw)
  const identity = lines[0]?.identity
  if (!identity) return
  rig.identity = identity
  const { model, serialNumber, firmware, protocolVersion } = identity
  for (const [key, text] of Object.entries({ model, serial: serialNumber, firmware })) {
    const good = text.length > 0 && text.length <= 40
    judge.expect('P-5.2', good, `${key} has ${text.length} characters; must be 1 to 40`, raw)
  }
  const before = declared(first, 'identity')[0]!.identity.serialNumber
  judge.expect('P-5.2', before === serialNumber, `serial number changed from '${before}'`, raw)
  judge.expect(
    'P-13.1',
    protocolVersion === WIRE.protocolVersion,
    `declares version ${protocolVersion}; this is version ${WIRE.protocolVersion}`,
    raw,
  )
}
