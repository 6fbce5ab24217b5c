import type { LineFaultCode } from '../../../src/protocol/line-fault.ts'
import { faultText } from '../../../src/protocol/line-fault.ts'
import { eventsFrom, type RigUnderCheck, type SeenEvent, step32 } from '../rig-under-check.ts'

/** Which clause a line breaks that a host cannot take. */
const CLAUSE_OF: Readonly<Record<LineFaultCode, string>> = {
  'too-long': 'P-3.1',
  truncated: 'P-3.1',
  character: 'P-3.2',
  'no-checksum': 'P-3.3',
  checksum: 'P-3.3',
  kind: 'P-3.4',
  syntax: 'P-3.5',
  'field-count': 'P-6.2',
  'not-a-number': 'P-3.6',
  'out-of-range': 'P-3.6',
  'missing-key': 'P-3.5',
  'repeated-key': 'P-3.5',
  'unknown-key': 'P-3.5',
  'unknown-word': 'P-3.5',
  payload: 'P-6.5',
  'no-layout': 'P-6.10',
}

/** What every line that came in the whole check shows by itself. */
export function judgeAllLines(rig: RigUnderCheck): void {
  judgeForms(rig)
  judgeAnswers(rig)
  judgeEvents(rig)
}

const SPOILT_BOOT = /^(?!E ).* boot cause=[a-z-]+\*[0-9A-F]{4}$/

function judgeForms({ line, judge, doubtful: doubts }: RigUnderCheck): void {
  for (const clause of ['P-3.1', 'P-3.2', 'P-3.3', 'P-3.4', 'P-3.5', 'P-3.6']) judge.kept(clause)
  // What came before the first good line may be the rest of a line, or a boot loader's (P-10.1).
  const first = line.lines.findIndex(seen => seen.content.kind !== 'fault')
  const spoilt = line.lines.find(
    seen => seen.content.kind === 'fault' && SPOILT_BOOT.test(seen.raw),
  )
  if (spoilt) judge.broken('P-10.1', 'boot did not stand on a line of its own', spoilt.raw)
  for (const seen of line.lines) {
    if (seen.content.kind !== 'fault') continue
    const { fault } = seen.content
    if (seen.index < first && ABOUT_THE_LINE.includes(fault.code)) continue
    // Samples that came when others were expected again.
    const doubtful = doubts.some(d => seen.index >= d.from && seen.index < d.to)
    if (doubtful && !ABOUT_THE_LINE.includes(fault.code)) continue
    judge.broken(clauseOf(fault.code, seen.raw), faultText(fault), seen.raw)
  }
}

/** The clause that describes a line's content, by how the line begins. */
const CLAUSE_OF_CONTENT: readonly (readonly [begins: RegExp, clause: string])[] = [
  [/^D \d+ identity /, 'P-5.2'],
  [/^D \d+ channel /, 'P-5.5'],
  [/^D \d+ rate /, 'P-5.6'],
  [/^D \d+ limits /, 'P-5.7'],
  [/^D \d+ status /, 'P-5.8'],
  [/^E \d+ \d+ boot /, 'P-7.8'],
  [/^E \d+ \d+ bridge /, 'P-7.3'],
  [/^E \d+ \d+ drive-ended /, 'P-7.4'],
  [/^E \d+ \d+ trip /, 'P-7.5'],
  [/^E \d+ \d+ overrun /, 'P-7.6'],
  [/^E \d+ \d+ index /, 'P-7.7'],
  [/^E \d+ \d+ burst-ready /, 'P-7.9'],
  [/^A \d+ ERR /, 'P-12.2'],
  [/^A /, 'P-4.4'],
]

/** Faults that are the same whatever the line says. */
const ABOUT_THE_LINE: readonly LineFaultCode[] = [
  'too-long',
  'truncated',
  'character',
  'no-checksum',
  'checksum',
  'not-a-number',
]

function clauseOf(code: LineFaultCode, raw: string): string {
  if (ABOUT_THE_LINE.includes(code)) return CLAUSE_OF[code]
  if (code === 'out-of-range' && /^[SB] /.test(raw)) return 'P-6.11'
  return CLAUSE_OF_CONTENT.find(([begins]) => begins.test(raw))?.[1] ?? CLAUSE_OF[code]
}

/** More index pulses than P-7.7 allows in any one second. */
function judgeIndex(judge: RigUnderCheck['judge'], pulses: readonly SeenEvent[]): void {
  pulses.forEach((pulse, i) => {
    const after = pulses[i + MOST_PULSES]
    const crowded = after !== undefined && step32(pulse.timeUs, after.timeUs) < 1_000_000
    judge.expect('P-7.7', !crowded, 'more than fifty index events in a second', pulse.line.raw)
  })
}

const MOST_PULSES = 51

function judgeAnswers({ line, judge }: RigUnderCheck): void {
  const wanted = new Set(line.asked.map(a => a.id))
  const order: number[] = []
  const declared = new Map<number, number>()
  for (const seen of line.lines) {
    if (seen.content.kind !== 'message') continue
    const { message } = seen.content
    if (message.kind === 'declaration') {
      declared.set(message.id, (declared.get(message.id) ?? 0) + 1)
      continue
    }
    if (message.kind !== 'answer' || !wanted.has(message.answer.id)) continue
    const { answer } = message
    order.push(answer.id)
    if (answer.kind === 'error') {
      const long = answer.words.length
      judge.expect('P-12.3', long > 0 && long <= 80, `${long} characters of words`, seen.raw)
      judge.expect(
        'P-4.6',
        answer.code !== 'unknown-verb' || isUnknown(line.asked, answer.id),
        'a verb is not known',
        seen.raw,
      )
      continue
    }
    const lines = declared.get(answer.id) ?? 0
    const text = `lines=${answer.lines ?? 0}, but ${lines} declarations came before`
    judge.expect('P-5.1', (answer.lines ?? 0) === lines, text, seen.raw)
  }
  const sent = line.asked.map(a => a.id)
  const twice = order.find((id, i) => order.indexOf(id) !== i)
  judge.expect('P-4.4', twice === undefined, `request ${twice} was answered twice`, null)
  for (const { id, body } of line.asked) {
    judge.expect('P-4.4', order.includes(id), `no answer to '${body}'`, null)
  }
  const expected = sent.filter(id => order.includes(id))
  const once = [...new Set(order)]
  const swapped = once.findIndex((id, i) => id !== expected[i])
  judge.expect('P-4.4', swapped < 0, `answer ${once[swapped]} came out of order`, null)
}

const isUnknown = (asked: readonly { id: number; body: string }[], id: number) =>
  asked.some(a => a.id === id && a.body.endsWith(' launch'))

function judgeEvents(rig: RigUnderCheck): void {
  const { judge } = rig
  let last: number | null = null
  for (const { line, sequence, event } of eventsFrom(rig, 0)) {
    if (event.name === 'boot') {
      judge.expect('P-7.2', sequence === 0, 'boot must have sequence 0', line.raw)
      judge.kept('P-7.8')
      judge.kept('P-10.1')
    } else if (last !== null) {
      const missing = step32(last, sequence) - 1
      judge.expect('P-7.2', missing === 0, `${missing} events are missing before this`, line.raw)
    }
    last = sequence
  }
  judgeIndex(
    judge,
    eventsFrom(rig, 0).filter(e => e.event.name === 'index'),
  )
}
