import { describe, expect, test } from 'vitest'
import { lineOf } from '../../src/protocol/frame.ts'
import { writeRequest } from '../../src/protocol/request.ts'
import { FakeHardware } from '../support/fake-hardware.ts'
import { RigDesk } from '../support/rig-desk.ts'

function started() {
  const hardware = new FakeHardware()
  return { hardware, desk: new RigDesk(hardware) }
}

const uploaded = (desk: RigDesk) => {
  const rows: { index: number; timeUs: number; volts: number; number: number }[] = []
  for (const piece of desk.log.uploads) {
    for (let k = 0; k < piece.count; k++) {
      rows.push({
        index: piece.sequence + k,
        timeUs: piece.timeUs + 10 * k,
        volts: piece.counts[3 * k]!,
        number: piece.counts[3 * k + 2]!,
      })
    }
  }
  return rows
}

describe('a burst', () => {
  // P-9.1 P-9.2 P-9.4 P-9.5 P-7.9
  test('catches a change of the bridge with what went before it', () => {
    const { desk } = started()
    desk.ask({ verb: 'arm' })
    desk.ask({ verb: 'burst', samples: 1000, before: 200, trigger: 'bridge' })
    desk.wait(0.05)
    const drive = desk.drive({ setVolt: 5 })
    desk.wait(0.02)
    const [ready] = desk.eventsOf('burst-ready')
    expect(ready).toMatchObject({ samples: 1000, before: 200 })
    expect(desk.ask({ verb: 'upload', from: 0, samples: 1000 })).toMatchObject({ samples: 1000 })
    const rows = uploaded(desk)
    expect(rows.map(r => r.index)).toEqual(rows.map((_, i) => i))
    expect(rows.map(r => r.volts)).toEqual(rows.map((_, i) => (i < 200 ? 0 : 5000)))
    expect(rows.map(r => r.number)).toEqual(rows.map((_, i) => rows[0]!.number + i))
    rows.forEach((row, i) => {
      if (row.timeUs !== rows[0]!.timeUs + 10 * i) throw new Error(`time of ${i}`)
    })
    expect(rows[200]!.timeUs).toBe(ready!.timeUs)
    if (drive.kind === 'ok') expect(ready!.timeUs - drive.timeUs).toBeLessThanOrEqual(10)
  })

  // P-9.4
  test('whose trigger comes early has a shorter part before it, and says so', () => {
    const { desk } = started()
    desk.ask({ verb: 'arm' })
    desk.ask({ verb: 'burst', samples: 1000, before: 200, trigger: 'bridge' })
    desk.wait(0.001)
    desk.drive()
    desk.wait(0.02)
    expect(desk.eventsOf('burst-ready')).toMatchObject([{ samples: 900, before: 100 }])
    desk.ask({ verb: 'burst', samples: 1000, before: 200, trigger: 'now' })
    desk.wait(0.02)
    expect(desk.eventsOf('burst-ready').at(-1)).toMatchObject({ samples: 800, before: 0 })
    expect(desk.ask({ verb: 'upload', from: 0, samples: 801 })).toMatchObject({ code: 'bad-value' })
  })

  // P-9.5
  test('is sent again in pieces as often as asked for', () => {
    const { desk } = started()
    desk.ask({ verb: 'burst', samples: 500, before: 0, trigger: 'now' })
    desk.wait(0.02)
    for (let round = 0; round < 2; round++) {
      desk.log.uploads.length = 0
      desk.ask({ verb: 'upload', from: 123, samples: 7 })
      expect(uploaded(desk).map(r => r.index)).toEqual([123, 124, 125, 126, 127, 128, 129])
    }
  })

  // P-9.2 P-5.9 P-6.1
  test('under way holds off sampling and zero, until complete or given up by disarming', () => {
    const { hardware, desk } = started()
    desk.ask({ verb: 'burst', samples: 500, before: 100, trigger: 'bridge' })
    const sampling = { periodNs: 100_000, format: 'block', channelMask: 7 } as const
    expect(desk.ask({ verb: 'sampling', ...sampling })).toMatchObject({ code: 'not-now' })
    expect(desk.ask({ verb: 'zero' })).toMatchObject({ code: 'not-now' })
    expect(hardware.bursting).toBe(true)
    desk.ask({ verb: 'disarm' })
    expect(hardware.bursting).toBe(false)
    expect(desk.ask({ verb: 'sampling', ...sampling }).kind).toBe('ok')
    expect(desk.ask({ verb: 'upload', from: 0, samples: 1 })).toMatchObject({ code: 'no-data' })
    desk.wait(0.1)
    expect(desk.eventsOf('burst-ready')).toEqual([])
  })

  // P-9.3 P-9.6
  test('leaves the stream as it is, and its upload stands among the other lines', () => {
    const { desk } = started()
    desk.ask({ verb: 'stream', on: true })
    desk.ask({ verb: 'burst', samples: 4096, before: 0, trigger: 'now' })
    desk.wait(0.1)
    desk.ask({ verb: 'upload', from: 0, samples: 4096 })
    desk.wait(0.1)
    expect(desk.ask({ verb: 'stream', on: false })).toMatchObject({ sequence: 2000, dropped: 0 })
    expect(desk.log.samples.reduce((n, b) => n + b.count, 0)).toBe(2000)
    const numbers = desk.log.samples.flatMap(b => b.counts.filter((_, i) => i % 3 === 2))
    expect(numbers).toEqual(numbers.map((_, i) => i))
    expect(uploaded(desk)).toHaveLength(4096)
    expect(desk.log.faults).toEqual([])
  })

  // P-9.2 P-9.6
  test('or upload that is asked for anew takes the place of the old one', () => {
    const { desk } = started()
    desk.ask({ verb: 'burst', samples: 4000, before: 0, trigger: 'bridge' })
    desk.ask({ verb: 'burst', samples: 50, before: 0, trigger: 'now' })
    desk.wait(0.01)
    expect(desk.eventsOf('burst-ready')).toMatchObject([{ samples: 50 }])
    for (const [id, from, samples] of [
      [900, 0, 50],
      [901, 40, 10],
    ] as const) {
      desk.rig.receive(lineOf(writeRequest(id, { verb: 'upload', from, samples })))
    }
    desk.wait(0.01)
    expect(uploaded(desk).map(r => r.index)).toEqual([40, 41, 42, 43, 44, 45, 46, 47, 48, 49])
  })
})
