import { describe, expect, test } from 'vitest'
import { ERROR_CODES } from '../../src/protocol/answer.ts'
import { TRIP_CAUSES } from '../../src/protocol/bridge.ts'
import { DECLARATION_NAMES } from '../../src/protocol/declaration.ts'
import { EVENT_NAMES } from '../../src/protocol/event.ts'
import { lineOf } from '../../src/protocol/frame.ts'
import { HostReader } from '../../src/protocol/host-reader.ts'
import { type NumberedRequest, VERBS, writeRequest } from '../../src/protocol/request.ts'
import { writeRigMessage } from '../../src/protocol/rig-message.ts'
import { asBytes, pageClauses, pageExamples, pageTable } from '../support/protocol-page.ts'
import { rigLog } from '../support/rig-log.ts'

const LAYOUT = [
  { index: 0, kind: 'signed', lowCount: -32_768, highCount: 32_767 },
  { index: 1, kind: 'signed', lowCount: -32_768, highCount: 32_767 },
  { index: 2, kind: 'modulo', lowCount: 0, highCount: 65_535 },
] as const

const rigLines = pageExamples()
  .filter(e => e.from === 'rig')
  .map(e => e.line)
const hostLines = pageExamples()
  .filter(e => e.from === 'host')
  .map(e => e.line)

function readAsRig(lines: readonly string[]) {
  const requests: NumberedRequest[] = []
  const wrong: number[] = []
  let unreadable = 0
  const reader = new HostReader({
    request: r => requests.push(r),
    wrong: w => wrong.push(w.id),
    unreadable: () => unreadable++,
  })
  reader.push(asBytes(lines))
  return { requests, wrong, unreadable }
}

const text = (bytes: Uint8Array) => new TextDecoder().decode(bytes)

describe('the examples of firmware-protocol.md', () => {
  // P-3.2 P-3.3 P-3.4 P-3.5 P-3.6
  test('are all accepted by the host, checksum and form', () => {
    const { reader, faults } = rigLog(LAYOUT)
    reader.push(asBytes(rigLines))
    expect(faults).toEqual([])
    expect(reader.counters).toMatchObject({ lines: rigLines.length, accepted: rigLines.length })
  })

  // P-12.3
  test('are all accepted by the rig, but for the two that show an error', () => {
    const { requests, wrong, unreadable } = readAsRig(hostLines)
    expect(unreadable).toBe(0)
    expect(wrong).toEqual([40, 41])
    expect(requests).toHaveLength(hostLines.length - 2)
  })

  // P-4.6 P-5.1 P-12.2
  test('cover every kind of line, verb, declaration and event', () => {
    const { reader, messages } = rigLog(LAYOUT)
    reader.push(asBytes(rigLines))
    expect(new Set(rigLines.map(line => line[0]))).toEqual(new Set('ADSBEU'))
    expect(new Set(readAsRig(hostLines).requests.map(r => r.request.verb))).toEqual(new Set(VERBS))
    const declared = messages.flatMap(m => (m.kind === 'declaration' ? [m.declaration.name] : []))
    expect(new Set(declared)).toEqual(new Set(DECLARATION_NAMES))
    const events = messages.flatMap(m => (m.kind === 'event' ? [m.event.name] : []))
    expect(new Set(events)).toEqual(new Set(EVENT_NAMES))
  })

  test('come out byte for byte when the codec writes what it read', () => {
    const { reader, messages } = rigLog(LAYOUT)
    reader.push(asBytes(rigLines))
    const written = messages.map(m => text(lineOf(writeRigMessage(m))).trimEnd())
    expect(written).toEqual(rigLines.filter(line => 'ADE'.includes(line[0]!)))
    const requests = readAsRig(hostLines).requests.map(({ id, request }) =>
      text(lineOf(writeRequest(id, request))).trimEnd(),
    )
    expect(requests).toEqual(hostLines.filter(line => !/^Q 4[01] /.test(line)))
  })

  // P-6.3 P-6.5 P-6.8 P-9.5
  test('carry the samples that the page says they do', () => {
    const { reader, samples, uploads } = rigLog(LAYOUT)
    reader.push(asBytes(rigLines))
    expect(samples).toEqual([
      { sequence: 0, timeUs: 4_201_100, count: 1, counts: [12_288, -41, 65_530] },
      { sequence: 4_294_967_295, timeUs: 4_294_967_290, count: 1, counts: [0, 32_767, 0] },
      {
        sequence: 1,
        timeUs: 4_201_200,
        count: 2,
        counts: [12_288, -41, 65_530, 12_290, -40, 65_531],
      },
    ])
    expect(uploads).toEqual([
      { sequence: 0, timeUs: 7_248_020, count: 2, counts: [1, -41, 0, 2, -40, 0] },
    ])
  })
})

describe('the tables of firmware-protocol.md', () => {
  const tables = [
    { clause: 'P-4.6', words: VERBS },
    { clause: 'P-12.2', words: ERROR_CODES },
    { clause: 'P-8.5', words: TRIP_CAUSES },
  ]
  test.each(tables)('of $clause names exactly the words of the codec', ({ clause, words }) => {
    expect(new Set(pageTable(clause))).toEqual(new Set<string>(words))
  })

  test('numbers its clauses without gap or repetition', () => {
    const next = new Map<string, number>()
    for (const clause of pageClauses()) {
      const [section, number] = clause.slice(2).split('.')
      expect(`${clause}`).toBe(`P-${section}.${(next.get(section!) ?? 0) + 1}`)
      next.set(section!, Number(number))
    }
  })
})
