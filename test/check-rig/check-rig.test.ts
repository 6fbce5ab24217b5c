import { describe, expect, test } from 'vitest'
import { checkRig } from '../../server/check-rig/check-rig.ts'
import { CLAUSES } from '../../server/check-rig/clauses.ts'
import { BROKEN_RIGS, sparseHardware } from './broken-rigs.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { createPracticeHardware } from '../../src/practice-rig/practice-hardware.ts'
import { practiceMotor } from '../support/practice.ts'
import { FakeHardware } from '../support/fake-hardware.ts'
import { pageClauses } from '../support/protocol-page.ts'
import { SimulatedLink } from '../support/simulated-link.ts'

async function verdictsOf(link: SimulatedLink, drive: boolean) {
  return checkRig(link, { drive, clock: link.clock })
}

const broken = (verdicts: Awaited<ReturnType<typeof verdictsOf>>) =>
  verdicts.filter(v => v.verdict === 'broken').map(v => `${v.clause} ${v.text} | ${v.evidence}`)

describe('check-rig', () => {
  test('has one verdict for every clause of the page, in its order', () => {
    expect(CLAUSES.map(c => c.clause)).toEqual(pageClauses())
  })

  test('finds nothing broken in the practice rig, and says of the rest why it was not seen', async () => {
    const verdicts = await verdictsOf(new SimulatedLink(new FakeHardware()), true)
    expect(broken(verdicts)).toEqual([])
    for (const v of verdicts) expect(v.verdict === 'not-seen').toBe(v.text !== '')
    const unseen = verdicts.filter(v => v.verdict === 'not-seen').map(v => v.clause)
    const expected = CLAUSES.filter(c => c.unseen !== null).map(c => c.clause)
    const byChance = ['P-7.6', 'P-7.7']
    expect(unseen.filter(c => !expected.includes(c))).toEqual(byChance)
  })

  test('finds nothing broken in a practice rig with a motor behind it, driven by PWM', async () => {
    const motor = practiceMotor('dormouse-12')
    const bench = defaultBench(motor, { position: true, bridge: 'pwm' })
    const verdicts = await verdictsOf(
      new SimulatedLink(createPracticeHardware(motor, bench, 5)),
      true,
    )
    expect(broken(verdicts)).toEqual([])
    expect(verdicts.filter(v => v.verdict === 'kept').length).toBeGreaterThan(60)
  })
})

describe('check-rig finds out a rig that', () => {
  test.each(BROKEN_RIGS)('$name ($breaks)', async ({ breaks, tamper, hardware }) => {
    const link = new SimulatedLink(hardware?.() ?? sparseHardware(), tamper())
    const verdicts = await verdictsOf(link, true)
    const found = verdicts.filter(v => v.verdict === 'broken').map(v => v.clause)
    expect(found, broken(verdicts).join('\n')).toEqual(expect.arrayContaining([...breaks]))
  })

  test('breaks any clause that can be seen: each has a broken rig here', () => {
    const caught = new Set(BROKEN_RIGS.flatMap(r => r.breaks))
    const seen = CLAUSES.filter(c => c.unseen === null).map(c => c.clause)
    expect(seen.filter(clause => !caught.has(clause))).toEqual([])
  })
})
