import { describe, expect, test } from 'vitest'
import { lineOf } from '../../src/protocol/frame.ts'
import { type Request, VERBS } from '../../src/protocol/request.ts'
import { FAKE_LIMITS, FakeHardware } from '../support/fake-hardware.ts'
import { RigDesk } from '../support/rig-desk.ts'

const asLine = (body: string) => new TextDecoder().decode(lineOf(body))

const ONE_OF_EACH: Request[] = [
  { verb: 'identify' },
  { verb: 'channels' },
  { verb: 'burst-channels' },
  { verb: 'rates' },
  { verb: 'limits' },
  { verb: 'status' },
  { verb: 'alive' },
  { verb: 'zero' },
  { verb: 'sampling', periodNs: 1_000_000, format: 'decimal', channelMask: 7 },
  { verb: 'stream', on: true },
  { verb: 'arm' },
  {
    verb: 'drive',
    mode: 'coast',
    setVolt: 0,
    durationSec: 0.1,
    currentLimitAmp: 1,
    after: 'coast',
  },
  { verb: 'stop' },
  { verb: 'burst', samples: 10, before: 0, trigger: 'now' },
  { verb: 'disarm' },
  { verb: 'stream', on: false },
]

describe('a rig asked', () => {
  // P-4.4 P-4.6 P-4.1
  test('every verb answers each exactly once, with the id that was asked', () => {
    const desk = new RigDesk(new FakeHardware())
    for (const request of ONE_OF_EACH) expect(desk.ask(request).kind).toBe('ok')
    desk.wait(0.01)
    expect(desk.ask({ verb: 'upload', from: 0, samples: 10 }).kind).toBe('ok')
    const asked = new Set<string>([...ONE_OF_EACH.map(r => r.verb), 'upload'])
    expect(asked).toEqual(new Set<string>(VERBS))
  })

  // P-4.3 P-4.4
  test('four things at once answers them in order', () => {
    const desk = new RigDesk(new FakeHardware())
    desk.send(
      ['alive', 'status', 'arm', 'disarm'].map((v, i) => asLine(`Q ${i + 50} ${v}`)).join(''),
    )
    const ids = desk.log.messages.flatMap(m => (m.kind === 'answer' ? [m.answer.id] : []))
    expect(ids).toEqual([50, 51, 52, 53])
  })

  // P-4.5
  test('the same twice gives the same, and the later drive counts', () => {
    const hardware = new FakeHardware()
    const desk = new RigDesk(hardware)
    for (let i = 0; i < 2; i++) expect(desk.ask({ verb: 'arm' }).kind).toBe('ok')
    desk.drive({ durationSec: 0.1 })
    desk.wait(0.05)
    desk.drive({ durationSec: 0.1 })
    desk.wait(0.08)
    expect(hardware.mode).toBe('drive')
    desk.wait(0.03)
    expect(hardware.mode).toBe('coast')
    expect(desk.eventsOf('bridge').map(e => e.by)).toEqual(['drive', 'duration'])
  })

  // P-3.1 P-3.7 P-5.8
  test('by damaged lines says nothing, does nothing and counts; empty lines do not count', () => {
    const hardware = new FakeHardware()
    const desk = new RigDesk(hardware)
    const before = desk.log.messages.length
    desk.send('\n\r\n\n')
    desk.send(asLine('Q 9 arm').replace('arm', 'brm'))
    desk.send('Q 9 arm\n')
    desk.send(`${'x'.repeat(300)}\n`)
    desk.send(asLine('Q 0 arm'))
    expect(desk.log.messages).toHaveLength(before)
    expect(desk.rig.armed).toBe(false)
    expect(desk.declared({ verb: 'status' })).toMatchObject([{ status: { badLines: 4 } }])
  })

  // P-4.2
  test('by a request of 129 bytes drops it, and takes one of 128', () => {
    const desk = new RigDesk(new FakeHardware())
    const padded = (bytes: number) => {
      const body = `Q 7 stop ${'x'.repeat(bytes - 'Q 7 stop *0000\n'.length)}`
      return asLine(body)
    }
    expect(padded(128)).toHaveLength(128)
    desk.send(padded(129))
    expect(desk.log.messages.filter(m => m.kind === 'answer')).toHaveLength(0)
    desk.send(padded(128))
    expect(desk.log.messages.filter(m => m.kind === 'answer')).toHaveLength(1)
  })

  // P-12.1 P-12.2 P-12.3
  const refusals = [
    ['Q 5 launch', 'unknown-verb'],
    ['Q 5 stream', 'missing-key'],
    ['Q 5 alive please=1', 'unknown-key'],
    ['Q 5 stream mode=on mode=on', 'unknown-key'],
    ['Q 5 stream mode=perhaps', 'bad-value'],
    ['Q 5 sampling period-ns=123456 format=block channels=7', 'bad-value'],
    ['Q 5 sampling period-ns=100000 format=block channels=8', 'bad-value'],
    ['Q 5 burst samples=4097 before=0 trigger=now', 'bad-value'],
    ['Q 5 upload from=0 samples=1', 'no-data'],
    ['Q 5 drive mode=coast duration-ms=10 current-ma=10 after=coast', 'not-armed'],
    ['Q 5 drive mode=coast duration-ms=10001 current-ma=10 after=coast', 'over-limit'],
    ['Q 5 drive mode=coast duration-ms=10 current-ma=12001 after=coast', 'over-limit'],
    [
      'Q 5 drive mode=voltage voltage-mv=24001 duration-ms=10 current-ma=1 after=coast',
      'over-limit',
    ],
  ] as const
  test.each(refusals)("'%s' refuses with %s, in few printable words", (body, code) => {
    const desk = new RigDesk(new FakeHardware())
    desk.send(asLine(body))
    const answer = desk.log.messages.at(-1)
    expect(answer).toMatchObject({ kind: 'answer', answer: { kind: 'error', id: 5, code } })
    if (answer?.kind === 'answer' && answer.answer.kind === 'error') {
      expect(answer.answer.words).toMatch(/^[ -~]{1,80}$/)
    }
  })

  // P-4.6
  test('for what it has no hardware for says so', () => {
    const hardware = new FakeHardware()
    hardware.limits = { ...FAKE_LIMITS, burst: null, reversible: false }
    hardware.markZero = () => false
    const desk = new RigDesk(hardware)
    const asks: Request[] = [
      { verb: 'burst', samples: 1, before: 0, trigger: 'now' },
      { verb: 'burst-channels' }, // P-9.7
      { verb: 'upload', from: 0, samples: 1 },
      { verb: 'zero' }, // P-5.9
    ]
    for (const request of asks) expect(desk.ask(request)).toMatchObject({ code: 'not-fitted' })
    desk.ask({ verb: 'arm' })
    expect(desk.drive({ setVolt: -1 })).toMatchObject({ code: 'over-limit' })
  })
})

describe('a rig declares', () => {
  // P-5.1 P-5.2 P-5.5 P-5.6 P-5.7 P-4.7 P-9.7
  test('what its hardware is, and how many lines that took', () => {
    const hardware = new FakeHardware()
    const desk = new RigDesk(hardware)
    expect(desk.declared({ verb: 'identify' })).toEqual([
      { name: 'identity', identity: hardware.identity },
    ])
    expect(desk.declared({ verb: 'channels' })).toEqual(
      hardware.channelsAt(100_000).map(channel => ({ name: 'channel', channel })),
    )
    expect(desk.declared({ verb: 'burst-channels' })).toEqual(
      hardware.burstChannels.map(channel => ({ name: 'channel', channel })),
    )
    expect(desk.declared({ verb: 'limits' })).toEqual([{ name: 'limits', limits: FAKE_LIMITS }])
    expect(desk.declared({ verb: 'rates' })).toHaveLength(3)
    expect(desk.log.messages.at(-1)).toMatchObject({ answer: { kind: 'ok', lines: 3 } })
    expect(desk.log.faults).toEqual([])
  })

  // P-5.3
  test('its channels as they measure at the period now in force', () => {
    const desk = new RigDesk(new FakeHardware())
    desk.ask({ verb: 'sampling', periodNs: 1_000_000, format: 'block', channelMask: 7 })
    expect(desk.declared({ verb: 'channels' })).toMatchObject([
      { channel: { apertureSec: 0.001 } },
      { channel: { apertureSec: 0.001 } },
      { channel: { apertureSec: 0 } },
    ])
  })

  // P-5.6 P-6.1
  test('only rates that its line carries, and refuses the others', () => {
    const hardware = new FakeHardware()
    hardware.identity.baud = 115_200
    const desk = new RigDesk(hardware)
    expect(desk.declared({ verb: 'rates' }).map(d => d.name === 'rate' && d.rate)).toEqual([
      // 10 000/s × 8 base64 characters alone are 80 kB/s; the line carries 11.52 kB/s.
      { periodNs: 100_000, decimal: false, block: false },
      // 1000/s: a decimal line of at most 50 bytes is 50 kB/s; a block about 10 kB/s.
      { periodNs: 1_000_000, decimal: false, block: true },
      { periodNs: 50_000_000, decimal: true, block: true },
    ])
    const fast: Request = {
      verb: 'sampling',
      periodNs: 1_000_000,
      format: 'decimal',
      channelMask: 7,
    }
    expect(desk.ask(fast)).toMatchObject({ code: 'too-fast' })
  })

  // P-5.8
  test('its state of health', () => {
    const desk = new RigDesk(new FakeHardware(), { clockStartUs: 4_294_967_000 })
    desk.ask({ verb: 'arm' })
    desk.drive({ currentLimitAmp: 2 })
    desk.wait(0.001)
    expect(desk.declared({ verb: 'status' })).toEqual([
      {
        name: 'status',
        status: {
          armed: false,
          bridge: 'coast',
          setVolt: 0,
          streaming: false,
          busVolt: 24,
          trips: 1,
          badLines: 0,
          lastTrip: 'over-current',
          lastTripTimeUs: 4_294_967_010,
          boardCelsius: 25,
        },
      },
    ])
  })

  // P-5.9
  test('zero where the shaft is, but not while the stream is on', () => {
    const hardware = new FakeHardware()
    const desk = new RigDesk(hardware)
    expect(desk.ask({ verb: 'zero' }).kind).toBe('ok')
    desk.ask({ verb: 'stream', on: true })
    expect(desk.ask({ verb: 'zero' })).toMatchObject({ code: 'not-now' })
    expect(hardware.zeroed).toBe(1)
  })
})

describe('a rig that starts', () => {
  // P-10.1 P-7.2 P-7.8 P-8.1
  test('opens its bridge, then says boot as its first event, on a line of its own', () => {
    const hardware = new FakeHardware()
    hardware.mode = 'drive'
    const desk = new RigDesk(hardware, { bootSec: 0.5, bootCause: 'reset' })
    expect(hardware.bridgeLog[0]).toEqual({ timeSec: 0, mode: 'coast', setVolt: 0 })
    desk.log.reader.push(new TextEncoder().encode('bootloader 1.0'))
    desk.send(asLine('Q 1 identify'))
    desk.wait(0.6)
    expect(desk.log.messages).toEqual([
      {
        kind: 'event',
        sequence: 0,
        timeUs: 500_000,
        event: { name: 'boot', cause: 'reset' },
      },
    ])
    // The boot loader's words are one rejected line; the event was not spoilt.
    expect(desk.log.faults).toHaveLength(1)
    expect(desk.ask({ verb: 'identify' }).kind).toBe('ok')
  })

  // P-10.4 P-6.1
  test('knows nothing of what was set before', () => {
    const hardware = new FakeHardware()
    const before = new RigDesk(hardware)
    before.ask({ verb: 'sampling', periodNs: 1_000_000, format: 'decimal', channelMask: 1 })
    before.ask({ verb: 'arm' })
    before.drive()
    before.ask({ verb: 'stream', on: true })
    before.wait(0.01)
    const after = new RigDesk(hardware)
    expect(hardware.mode).toBe('coast')
    expect(after.declared({ verb: 'status' })).toMatchObject([
      { status: { armed: false, streaming: false, trips: 0 } },
    ])
    after.ask({ verb: 'stream', on: true })
    after.wait(0.03)
    expect(after.log.samples[0]!.counts).toHaveLength(3 * after.log.samples[0]!.count)
    expect(after.log.samples[0]!.count).toBeGreaterThan(50)
  })

  // P-10.3
  test('in the middle of a line is found again at the next line feed', () => {
    const desk = new RigDesk(new FakeHardware())
    desk.send(asLine('Q 8 arm').slice(4))
    desk.send('\xff\x00 garbage')
    desk.send('\n')
    desk.send(asLine('Q 9 alive'))
    expect(desk.log.messages.at(-1)).toMatchObject({ answer: { id: 9, kind: 'ok' } })
  })
})
