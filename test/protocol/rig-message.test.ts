import { describe, expect, test } from 'vitest'
import { faultText, type LineFault } from '../../src/protocol/line-fault.ts'
import { readRigMessage } from '../../src/protocol/rig-message.ts'
import { rigLog } from '../support/rig-log.ts'
import { lineOf } from '../../src/protocol/frame.ts'

const LIMITS =
  'voltage-mv=24000 current-ma=12000 bus-low-mv=7000 bus-high-mv=30000 speed-mrad-s=0 stall-ms=0 ' +
  'stall-mrad-s=0 duration-ms=10000 watchdog-ms=300 current-trip-us=20 command-trip-us=100 ' +
  'reverse=0 pwm-hz=0 burst-period-ns=0 burst-samples=0'

const CHANNEL =
  'index=0 name="amps" quantity=current unit=A scale=0.001 offset=0 kind=signed bits=12 low=-2048 ' +
  'high=2047 noise=0.003 aperture-us=100 delay-us=0'

describe('what a rig says', () => {
  test('of a limit that it does not have is null', () => {
    expect(readRigMessage(`D 4 limits ${LIMITS}`)).toMatchObject({
      ok: true,
      value: {
        declaration: {
          limits: { speedRadPerSec: null, stallSec: null, pwmHz: null, burst: null, driveVolt: 24 },
        },
      },
    })
  })

  // P-3.5
  test('in keys that the host does not know is ignored', () => {
    const message = readRigMessage(`D 2 channel ${CHANNEL} colour="blue sky"`)
    expect(message).toMatchObject({ ok: true, value: { declaration: { channel: { bits: 12 } } } })
  })

  // P-5.2 P-5.5 P-5.7 P-7.1
  const faults: [string, LineFault['code']][] = [
    ['X 1 2', 'kind'],
    ['A 1 MAYBE time-us=1', 'syntax'],
    ['A 0 OK time-us=1', 'not-a-number'],
    ['A 1 OK', 'syntax'],
    ['A 1 OK lines=1', 'missing-key'],
    ['A 1 OK time-us=4294967296', 'out-of-range'],
    ['A 1 ERR on-fire help', 'unknown-word'],
    ['D 1 weather sunny=1', 'unknown-word'],
    ['D 1 rate period-ns=100000 decimal=0', 'missing-key'],
    ['D 1 rate period-ns=100000 decimal=0 block=2', 'unknown-word'],
    [`D 4 limits ${LIMITS.replace('watchdog-ms=300', 'watchdog-ms=301')}`, 'out-of-range'],
    [`D 4 limits ${LIMITS.replace('current-trip-us=20', 'current-trip-us=51')}`, 'out-of-range'],
    [`D 2 channel ${CHANNEL.replace('unit=A', 'unit=mA')}`, 'unknown-word'],
    [`D 2 channel ${CHANNEL.replace('high=2047', 'high=2048')}`, 'out-of-range'],
    [`D 2 channel ${CHANNEL.replace('high=2047', 'high=-2049')}`, 'out-of-range'],
    [`D 2 channel ${CHANNEL.replace('scale=0.001', 'scale=1e999')}`, 'not-a-number'],
    [`D 2 channel ${CHANNEL.replace('scale=0.001', 'scale=NaN')}`, 'not-a-number'],
    [`D 2 channel ${CHANNEL.replace('noise=0.003', 'noise=-1')}`, 'out-of-range'],
    ['E 1 2 trip code=bored value=1 limit=2', 'unknown-word'],
    ['E 1 2 party guests=3', 'unknown-word'],
    ['E -1 2 index count=3', 'not-a-number'],
    ['E 1 2 index', 'syntax'],
  ]
  test.each(faults)("is refused as '%s' (%s)", (body, code) => {
    const message = readRigMessage(body)
    expect(message).toMatchObject({ ok: false, error: { code } })
    if (!message.ok) expect(faultText(message.error)).not.toMatch(/undefined|\n/)
  })

  // P-3.2
  test('with terminal escapes is refused, and the evidence is safe to print', () => {
    const { reader, messages, faults } = rigLog(null)
    const line = lineOf('D 1 identity model="x"')
    line[line.indexOf(0x78)] = 0x1b
    reader.push(line)
    expect(messages).toEqual([])
    expect(faults).toHaveLength(1)
    expect(faults[0]).toMatchObject({ lineNumber: 1, fault: { code: 'character', byte: 0x1b } })
    expect(faults[0]!.raw).toContain('model="\\x1B"')
    expect(faults[0]!.raw).toMatch(/^[ -~]*$/)
  })

  test('that is written with forbidden characters throws as misuse', () => {
    expect(() => lineOf('E 1 2 a*b')).toThrow(RangeError)
    expect(() => lineOf('D 1 identity model="µ"')).toThrow(RangeError)
  })
})
