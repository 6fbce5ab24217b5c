import { describe, expect, test } from 'vitest'
import { FAKE_LIMITS, FakeHardware } from '../support/fake-hardware.ts'
import { RigDesk } from '../support/rig-desk.ts'

function armed(hardware = new FakeHardware()) {
  const desk = new RigDesk(hardware)
  desk.ask({ verb: 'arm' })
  return { hardware, desk }
}

describe('driving', () => {
  // P-8.1
  test('is refused until armed, and leaves the bridge in coast', () => {
    const hardware = new FakeHardware()
    const desk = new RigDesk(hardware)
    expect(desk.drive()).toMatchObject({ code: 'not-armed' })
    expect(hardware.mode).toBe('coast')
    desk.ask({ verb: 'arm' })
    expect(hardware.mode).toBe('coast')
    expect(desk.drive()).toMatchObject({ kind: 'ok' })
    expect(hardware).toMatchObject({ mode: 'drive', setVolt: 6 })
  })

  // P-8.3 P-7.3 P-7.4 P-7.1
  test('ends by itself after its duration, to the microsecond of the rig, in the state asked for', () => {
    for (const after of ['coast', 'brake'] as const) {
      const { hardware, desk } = armed()
      const answer = desk.drive({ durationSec: 0.123, after })
      desk.wait(0.2)
      const [began, ended] = desk.eventsOf('bridge')
      expect(began).toMatchObject({ mode: 'drive', setVolt: 6, by: 'drive', eventNumber: 1 })
      expect(answer).toMatchObject({ kind: 'ok', timeUs: began!.timeUs })
      expect(ended).toMatchObject({ mode: after, setVolt: 0, by: 'duration' })
      expect(ended!.timeUs - began!.timeUs).toBe(123_000)
      expect(desk.eventsOf('drive-ended')).toMatchObject([
        {
          id: desk.lastId,
          by: 'duration',
          timeUs: ended!.timeUs,
          eventNumber: ended!.eventNumber + 1,
        },
      ])
      expect(hardware.mode).toBe(after)
    }
  })

  // P-8.3
  test('that is renewed goes on without a seam, and only its last command ends', () => {
    const { hardware, desk } = armed()
    for (let i = 0; i < 5; i++) {
      desk.drive({ durationSec: 0.1 })
      desk.wait(0.08)
    }
    desk.wait(0.1)
    expect(hardware.bridgeLog.slice(1)).toMatchObject([{ mode: 'drive' }, { mode: 'coast' }])
    expect(desk.eventsOf('drive-ended')).toHaveLength(1)
  })

  test('that is refused leaves the running command as it is', () => {
    const { hardware, desk } = armed()
    desk.drive({ durationSec: 0.1 })
    expect(desk.drive({ setVolt: 25 })).toMatchObject({ code: 'over-limit' })
    expect(hardware.setVolt).toBe(6)
    desk.wait(0.11)
    expect(hardware.mode).toBe('coast')
  })

  // P-8.7
  test('is ended at once by stop, which leaves the rig armed, and by disarm, which does not', () => {
    const { hardware, desk } = armed()
    desk.drive({ after: 'brake' })
    expect(desk.ask({ verb: 'stop' }).kind).toBe('ok')
    expect(hardware.mode).toBe('coast')
    expect(desk.rig.armed).toBe(true)
    desk.drive()
    expect(desk.ask({ verb: 'disarm' }).kind).toBe('ok')
    expect(hardware.mode).toBe('coast')
    expect(desk.rig.armed).toBe(false)
    expect(desk.eventsOf('drive-ended').map(e => e.by)).toEqual(['stop', 'disarm'])
    for (const verb of ['stop', 'disarm'] as const) expect(desk.ask({ verb }).kind).toBe('ok')
  })
})

describe('a rig keeps its motor safe', () => {
  // P-8.4 P-7.5 P-1.1
  test('when the host falls silent for 300 ms, driving or not', () => {
    for (const driving of [true, false]) {
      const { hardware, desk } = armed()
      const start = desk.nowSec
      if (driving) desk.drive({ durationSec: 5, after: 'brake' })
      desk.wait(0.299)
      expect(desk.rig.armed).toBe(true)
      desk.wait(0.002)
      expect(desk.rig.armed).toBe(false)
      expect(hardware.mode).toBe('coast')
      const [trip] = desk.eventsOf('trip')
      expect(trip).toMatchObject({ code: 'watchdog', limit: 0.3 })
      expect(trip!.timeUs / 1e6 - start).toBeCloseTo(0.3, 6)
      const names = desk.events.slice(-3).map(e => e.name)
      if (driving) expect(names).toEqual(['bridge', 'drive-ended', 'trip'])
      expect(desk.drive()).toMatchObject({ code: 'not-armed' })
    }
  })

  // P-8.4
  test('as long as requests come, refused ones too, the watchdog sleeps; damaged ones do not feed it', () => {
    const { desk } = armed()
    desk.stayAlive(1)
    expect(desk.rig.armed).toBe(true)
    for (let i = 0; i < 5; i++) {
      desk.drive({ setVolt: 99 })
      desk.wait(0.2)
    }
    expect(desk.rig.armed).toBe(true)
    for (let i = 0; i < 5; i++) {
      desk.send('Q 1 alive*0000\n')
      desk.wait(0.1)
    }
    expect(desk.eventsOf('trip')).toMatchObject([{ code: 'watchdog' }])
  })

  // P-8.5 P-8.6
  const currents = [
    { name: 'a drive command', drive: { setVolt: 10, currentLimitAmp: 4 }, emf: 0, limit: 4 },
    { name: 'reverse driving', drive: { setVolt: -10, currentLimitAmp: 4 }, emf: 0, limit: 4 },
    { name: 'the rig itself', drive: { setVolt: 24, currentLimitAmp: 11.9 }, emf: -1, limit: 11.9 },
    {
      name: 'braking',
      drive: { mode: 'brake', setVolt: 0, currentLimitAmp: 4 } as const,
      emf: 10,
      limit: 4,
    },
    { name: 'reversal', drive: { setVolt: -6, currentLimitAmp: 5 }, emf: 6, limit: 5 },
  ]
  test.each(currents)('when the current exceeds the limit of $name', ({ drive, emf, limit }) => {
    const { hardware, desk } = armed()
    hardware.emfVolt = emf
    const answer = desk.drive(drive)
    desk.wait(0.01)
    expect(hardware.mode).toBe('coast')
    expect(desk.rig.armed).toBe(false)
    const [trip] = desk.eventsOf('trip')
    expect(trip).toMatchObject({ code: 'over-current', limit })
    expect(Math.abs(trip!.value)).toBeGreaterThan(limit)
    if (answer.kind === 'ok') expect(trip!.timeUs - answer.timeUs).toBeLessThanOrEqual(50)
  })

  // P-8.6
  test('in brake after a command, by the limit of that command', () => {
    const { hardware, desk } = armed()
    desk.drive({ durationSec: 0.05, after: 'brake', currentLimitAmp: 4 })
    desk.wait(0.06)
    expect(hardware.mode).toBe('brake')
    hardware.emfVolt = 9
    desk.wait(0.002)
    expect(desk.eventsOf('trip')).toMatchObject([{ code: 'over-current', value: -4.5, limit: 4 }])
    expect(hardware.mode).toBe('coast')
  })

  // P-8.5
  const troubles: {
    code: string
    trouble: (h: FakeHardware) => void
    withinSec: number
    value: number
  }[] = [
    { code: 'over-speed', trouble: h => (h.speedRadPerSec = -901), withinSec: 0.02, value: -901 },
    { code: 'bus-high', trouble: h => (h.busVolt = 30.5), withinSec: 0.0011, value: 30.5 },
    { code: 'bus-low', trouble: h => (h.busVolt = 6.5), withinSec: 0.01, value: 6.5 },
    { code: 'over-temperature', trouble: h => (h.boardCelsius = 101), withinSec: 1, value: 101 },
  ]
  test.each(troubles)('on $code', ({ code, trouble, withinSec, value }) => {
    const { hardware, desk } = armed()
    desk.drive({ durationSec: 1 })
    desk.wait(0.05)
    expect(desk.eventsOf('trip')).toEqual([])
    const before = desk.nowSec
    trouble(hardware)
    desk.wait(0.05)
    const [trip] = desk.eventsOf('trip')
    expect(trip).toMatchObject({ code, value })
    expect(trip!.timeUs / 1e6 - before).toBeLessThanOrEqual(withinSec)
    expect(hardware.mode).toBe('coast')
    // P-8.2
    expect(desk.ask({ verb: 'arm' })).toMatchObject({ code: 'unsafe' })
  })

  // P-8.5
  test('when the shaft is held under voltage for too long, and not before', () => {
    const { hardware, desk } = armed()
    hardware.speedRadPerSec = 1
    desk.drive({ durationSec: 5 })
    desk.stayAlive(0.9)
    hardware.speedRadPerSec = 3 // it turned for a moment: the time starts anew
    desk.stayAlive(0.1)
    hardware.speedRadPerSec = 0
    desk.stayAlive(0.9)
    expect(desk.eventsOf('trip')).toEqual([])
    desk.stayAlive(0.3)
    expect(desk.eventsOf('trip')).toMatchObject([{ code: 'stall', limit: 1 }])
    expect(hardware.mode).toBe('coast')
  })

  // P-8.5
  test('but standing still in coast, brake or at 0 V is no stall', () => {
    const { hardware, desk } = armed()
    hardware.speedRadPerSec = 0
    for (const drive of [{ mode: 'brake', setVolt: 0 } as const, { setVolt: 0 }]) {
      desk.drive({ ...drive, durationSec: 2 })
      desk.stayAlive(1.5)
    }
    expect(desk.eventsOf('trip')).toEqual([])
  })

  // P-8.8
  test('while it streams at its fastest, uploads, and nobody takes what it sends', () => {
    const { hardware, desk } = armed()
    desk.ask({ verb: 'sampling', periodNs: 100_000, format: 'decimal', channelMask: 7 })
    desk.ask({ verb: 'burst', samples: 4096, before: 0, trigger: 'now' })
    desk.wait(0.05)
    desk.ask({ verb: 'upload', from: 0, samples: 4096 })
    desk.ask({ verb: 'stream', on: true })
    desk.drive({ durationSec: 1 })
    desk.wait(2, 0)
    const edges = hardware.bridgeLog.slice(-2)
    expect(edges).toMatchObject([{ mode: 'drive' }, { mode: 'coast' }])
    expect(edges[1]!.timeSec - edges[0]!.timeSec).toBeCloseTo(FAKE_LIMITS.watchdogSec, 6)
    expect(desk.rig.armed).toBe(false)
  })

  // P-7.2
  test('and says so in events that are counted without gap', () => {
    const { desk } = armed()
    desk.drive()
    desk.wait(1)
    expect(desk.events.map(e => e.eventNumber)).toEqual(desk.events.map((_, i) => i))
    expect(desk.events.length).toBeGreaterThan(3)
  })
})

describe('index pulses', () => {
  // P-7.7
  test('are reported with the count, at most fifty times a second', () => {
    const hardware = new FakeHardware()
    const desk = new RigDesk(hardware)
    for (let ms = 0; ms < 1000; ms++) {
      hardware.indexPulses.push({ timeSec: desk.nowSec, count: 4000 * ms })
      desk.wait(0.001)
    }
    const pulses = desk.eventsOf('index')
    expect(pulses.length).toBeGreaterThanOrEqual(49)
    expect(pulses.length).toBeLessThanOrEqual(51)
    expect(pulses[1]!.count).toBe((4000 * 20) & 0xffff)
  })
})
