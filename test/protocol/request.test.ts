import { describe, expect, test } from 'vitest'
import type { LineFault } from '../../src/protocol/line-fault.ts'
import { readRequest, writeRequest } from '../../src/protocol/request.ts'

const DRIVE = 'voltage-mv=6000 duration-ms=500 current-ma=4000 after=coast'

describe('a request', () => {
  // P-4.1 P-3.7
  const unreadable = [
    'Q 1 identify ',
    'Q identify',
    'Q 0 identify',
    'Q 65536 identify',
    'Q 01 identify',
    'A 1 OK',
    'Q 1',
  ]
  test.each(unreadable)("is not readable as '%s'", body => {
    expect(readRequest(body)).toMatchObject({ ok: false, error: { kind: 'unreadable' } })
  })

  // P-3.5 P-3.6 P-8.3 P-12.2
  const wrong: [string, LineFault['code']][] = [
    ['Q 1 launch', 'unknown-word'],
    ['Q 1 identify please=1', 'unknown-key'],
    ['Q 1 stream', 'missing-key'],
    ['Q 1 stream mode=maybe', 'unknown-word'],
    ['Q 1 stream mode=on mode=off', 'repeated-key'],
    ['Q 1 stream  mode=on', 'syntax'],
    ['Q 1 stream mode=', 'syntax'],
    ['Q 1 stream Mode=on', 'syntax'],
    ['Q 1 stream mode="on', 'syntax'],
    ['Q 1 stream mode="on"x', 'syntax'],
    [`Q 1 drive ${DRIVE}`, 'missing-key'],
    [`Q 1 drive mode=brake ${DRIVE}`, 'unknown-key'],
    ['Q 1 drive mode=voltage voltage-mv=6000 current-ma=4000 after=coast', 'missing-key'],
    ['Q 1 drive mode=coast duration-ms=0 current-ma=4000 after=coast', 'out-of-range'],
    ['Q 1 drive mode=coast duration-ms=1e3 current-ma=4000 after=coast', 'not-a-number'],
    ['Q 1 drive mode=coast duration-ms=+5 current-ma=4000 after=coast', 'not-a-number'],
    ['Q 1 drive mode=coast duration-ms=5.5 current-ma=4000 after=coast', 'not-a-number'],
    ['Q 1 drive mode=coast duration-ms=-0 current-ma=4000 after=coast', 'not-a-number'],
    ['Q 1 sampling period-ns=100000 format=block channels=0', 'out-of-range'],
    ['Q 1 burst samples=10 before=10 trigger=now', 'out-of-range'],
  ]
  test.each(wrong)("is answered with an error as '%s' (%s)", (body, code) => {
    expect(readRequest(body)).toMatchObject({
      ok: false,
      error: { kind: 'wrong', fault: { code } },
    })
  })

  // P-8.7
  test('to stop or disarm is obeyed whatever else stands in the line', () => {
    for (const verb of ['stop', 'disarm']) {
      expect(readRequest(`Q 9 ${verb} now=1 x`)).toEqual({
        ok: true,
        value: { id: 9, request: { verb } },
      })
    }
  })

  test('is written in volts, seconds and amperes as millivolts, milliseconds, milliamperes', () => {
    const drive = {
      verb: 'drive',
      mode: 'voltage',
      setVolt: -0.0004,
      durationSec: 0.25,
      currentLimitAmp: 1.234,
      after: 'brake',
    } as const
    expect(writeRequest(7, drive)).toBe(
      'Q 7 drive mode=voltage voltage-mv=0 duration-ms=250 current-ma=1234 after=brake',
    )
  })

  test('that no rig could read is not written: misuse says what and why', () => {
    const drive = {
      verb: 'drive',
      mode: 'coast',
      setVolt: 0,
      durationSec: 0,
      currentLimitAmp: 1,
      after: 'coast',
    } as const
    expect(() => writeRequest(7, drive)).toThrow(RangeError)
    expect(() => writeRequest(0, { verb: 'stop' })).toThrow('id = 0; must be an integer from 1')
  })

  // P-4.2
  test('in its longest form keeps within 128 bytes', () => {
    const longest = writeRequest(65_535, {
      verb: 'drive',
      mode: 'voltage',
      setVolt: -1000,
      durationSec: 600,
      currentLimitAmp: 1000,
      after: 'coast',
    })
    expect(longest.length + '*0000\n'.length).toBeLessThanOrEqual(128)
  })
})
