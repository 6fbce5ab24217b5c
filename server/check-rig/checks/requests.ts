import { crc16, crcText } from '../../../src/protocol/crc.ts'
import { WIRE } from '../../../src/protocol/wire.ts'
import { ask, type Check, refused, type RigUnderCheck, statusOf } from '../rig-under-check.ts'

/** Ids, lengths, several at once, damaged lines, refusals (P-3.7, P-4, P-12). Nothing moves. */
export const requestChecks = (): Check[] => [
  checkIds,
  checkLongest,
  checkFourAtOnce,
  checkDamaged,
  checkNoise,
  checkRefusals,
  checkTwice,
]

async function checkIds({ line, judge }: RigUnderCheck): Promise<void> {
  for (const id of [1, WIRE.maxId, 12_345]) {
    const exchange = await line.ask('alive', id)
    judge.expect('P-4.1', exchange !== null, `no answer under id ${id}`, null)
  }
}

async function checkLongest(rig: RigUnderCheck): Promise<void> {
  const { line, judge } = rig
  const id = line.nextId()
  const bare = line.lineText(`Q ${id} stop x`).length
  const rest = `stop x${'x'.repeat(WIRE.maxRequestBytes - bare)}`
  const exchange = await line.ask(rest, id)
  const text = `a request of ${WIRE.maxRequestBytes} bytes got no answer`
  judge.expect('P-4.2', exchange !== null, text, null)
  if (exchange === null) return
  const ok = exchange.answer.kind === 'ok'
  judge.expect('P-8.7', ok, 'stop must be answered OK whatever else it carries', exchange.line.raw)
}

async function checkFourAtOnce(rig: RigUnderCheck): Promise<void> {
  const { line, judge } = rig
  const from = line.lines.length
  const ids: number[] = []
  let burst = ''
  for (const verb of ['alive', 'status', 'stop', 'identify']) {
    const id = line.nextId()
    ids.push(id)
    line.asked.push({ id, body: `Q ${id} ${verb}` })
    burst += line.lineText(`Q ${id} ${verb}`)
  }
  await line.sendRaw(burst)
  await line.waitFor(from, seen => answerId(seen) === ids[3])
  await line.pause(20)
  const got = line.lines.slice(from).flatMap(seen => answerId(seen) ?? [])
  const text = `four requests at once were answered as ${got.join(', ') || 'nothing'}; sent ${ids.join(', ')}`
  judge.expect('P-4.3', got.join() === ids.join(), text, null)
}

async function checkDamaged(rig: RigUnderCheck): Promise<void> {
  const { line, judge } = rig
  const before = await statusOf(rig)
  const from = line.lines.length
  const good = (body: string) => line.lineText(body)
  const damaged = [
    good(`Q ${line.nextId()} alive`).replace('alive', 'alibe'),
    `Q ${line.nextId()} alive\n`,
    `Q ${line.nextId()} alive*zzzz\n`,
    good(`Q ${line.nextId()} stop ${'x'.repeat(1100)}`),
    good('Q 0 alive'),
    good('Q 65536 alive'),
    withChecksum(`Q ${line.nextId()} stop \x01`),
  ]
  for (const text of damaged) {
    await line.sendRaw(text)
    await line.pause(30)
  }
  // Empty lines and carriage returns are not damage (P-3.1).
  await line.sendRaw('\n\r\n\n')
  await line.pause(100)
  const answered = line.lines.slice(from).find(seen => answerId(seen) !== null)
  judge.expect('P-3.7', !answered, 'a damaged line was answered', answered?.raw ?? null)
  const after = await statusOf(rig)
  if (!before || !after) return
  const counted = after.badLines - before.badLines
  const text = `bad-lines went up by ${counted} for ${damaged.length} damaged lines and three empty ones`
  judge.expect('P-3.7', counted === damaged.length, text, line.lines.at(-2)?.raw ?? null)
}

async function checkNoise(rig: RigUnderCheck): Promise<void> {
  const { line, judge } = rig
  await line.sendRaw('\x00\xff\x80 noise \x1b[31m *00')
  await line.sendRaw('\n')
  const id = line.nextId()
  line.asked.push({ id, body: `Q ${id} alive` })
  const from = line.lines.length
  await line.sendRaw(line.lineText(`Q ${id} alive`).replace('\n', '\r\n'))
  const answer = await line.waitFor(from, seen => answerId(seen) === id)
  judge.expect('P-10.3', answer !== null, 'no answer to the first request after noise', null)
  judge.expect('P-3.1', answer !== null, 'a carriage return before the line feed hurt', null)
}

async function checkRefusals(rig: RigUnderCheck): Promise<void> {
  const { judge } = rig
  const before = await statusOf(rig)
  await refused(rig, 'launch', 'P-12.1', 'unknown-verb')
  await refused(rig, 'stream', 'P-12.1', 'missing-key')
  await refused(rig, 'stream mode=sometimes', 'P-12.1', 'bad-value')
  await refused(rig, 'alive please=1', 'P-3.5', 'unknown-key')
  await refused(rig, 'stream mode=off mode=off', 'P-3.5', 'unknown-key')
  // Coast only: whatever a rig does wrong here, nothing is driven.
  const coast = 'mode=coast current-ma=100 after=coast'
  await refused(rig, `drive ${coast}`, 'P-8.3', 'missing-key')
  await refused(rig, `drive ${coast} duration-ms=0`, 'P-3.6', 'bad-value')
  await refused(rig, `drive ${coast} duration-ms=10.5`, 'P-3.6', 'bad-value')
  await refused(rig, `drive ${coast} duration-ms=10`, 'P-8.1', 'not-armed')
  const after = await statusOf(rig)
  if (!before || !after) return
  const same = before.armed === after.armed && before.bridge === after.bridge
  judge.expect('P-12.1', same && !after.streaming, 'a refused request changed the state', null)
}

async function checkTwice(rig: RigUnderCheck): Promise<void> {
  for (const rest of ['disarm', 'stop', 'stream mode=off', 'limits']) {
    for (let twice = 0; twice < 2; twice++) {
      const exchange = await ask(rig, rest)
      if (exchange === null) continue
      const ok = exchange.answer.kind === 'ok'
      rig.judge.expect('P-4.5', ok, `'${rest}' asked twice was refused`, exchange.line.raw)
      if (rest === 'stop' || rest === 'disarm') {
        rig.judge.expect('P-8.7', ok, `'${rest}' was refused`, exchange.line.raw)
      }
    }
  }
}

/** Closed by its true checksum, whatever characters it has. */
function withChecksum(body: string): string {
  return `${body}*${crcText(crc16(Uint8Array.from(body, c => c.charCodeAt(0))))}\n`
}

const answerId = (seen: RigUnderCheck['line']['lines'][number]): number | null =>
  seen.content.kind === 'message' && seen.content.message.kind === 'answer'
    ? seen.content.message.answer.id
    : null
