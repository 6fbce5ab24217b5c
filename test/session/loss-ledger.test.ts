import { expect, test } from 'vitest'
import { LossLedger } from '../../server/session/loss-ledger.ts'

test('a gap that nobody announced is the line’s', () => {
  const ledger = new LossLedger()
  expect(ledger.gap(100, 140)).toEqual({ link: 40, rig: 0 })
  expect(ledger.total).toBe(40)
})

test('a gap that the rig announced is the rig’s, in parts too', () => {
  const ledger = new LossLedger()
  ledger.overrun(110, 10)
  ledger.overrun(125, 5)
  expect(ledger.gap(100, 140)).toEqual({ link: 25, rig: 15 })
  expect([ledger.link, ledger.rig]).toEqual([25, 15])
})

test('an announcement whose gap has not come yet is kept for it', () => {
  const ledger = new LossLedger()
  ledger.overrun(200, 50)
  expect(ledger.gap(10, 12)).toEqual({ link: 2, rig: 0 })
  expect(ledger.gap(200, 250)).toEqual({ link: 0, rig: 50 })
  expect(ledger.gap(200, 250)).toEqual({ link: 50, rig: 0 })
})
