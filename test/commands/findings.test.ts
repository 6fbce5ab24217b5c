import { existsSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { projectFile } from '../../server/files/project-file.ts'
import { openStore } from '../../server/store/open-store.ts'
import { commandBench } from '../support/command-runner.ts'
import { fitOf } from '../support/fit-documents.ts'

const { folder, db, run } = commandBench()

function identified(): void {
  const store = openStore(db, { now: Date.now })
  if (!store.motors.find('m')) {
    const motor = store.motors.add({ name: 'm' })
    const document = fitOf('m', 1, 1e-3)
    store.fits.add({ motorId: motor.id, runIds: [], document, settings: {}, inputsHash: '' })
  }
  store.close()
}

describe('what a motor means for a drive', () => {
  test('the example drive file is understood, and what the fit lacks is said by name', async () => {
    identified()
    const drive = projectFile('datasets/examples/drive-24v.json')
    const { code, out, err } = await run('withstand', '--motor', 'm', '--drive', drive, '--json')
    expect(code).toBe(0)
    expect(err).toContain("from identification 1 of 'm'")
    const findings = JSON.parse(out).findings as {
      id: string
      value: number | null
      reason: string | null
    }[]
    expect(findings.find(f => f.id === 'rippleCurrent')?.reason).toContain('inductance')
  })

  test.each([
    ['{}', 'supply: is missing; every drive has one (see datasets/examples/drive-24v.json)'],
    ['[1', 'is not JSON'],
  ])('a drive file %j is refused', async (content, message) => {
    identified()
    const file = join(folder, 'drive.json')
    writeFileSync(file, content)
    const outcome = await run('withstand', '--motor', 'm', '--drive', file)
    expect(outcome).toMatchObject({ code: 2, out: '' })
    expect(outcome.err).toContain(message)
  })
})

describe('mistakes that would go on quietly', () => {
  test('a mistyped store is not made by a command that only reads', async () => {
    const typo = join(folder, 'typo.rotorfit')
    const outcome = await run('fit', '--motor', 'm', '--db', typo)
    expect(outcome).toMatchObject({ code: 2, out: '' })
    expect(outcome.err).toContain('there is no such store')
    expect(existsSync(typo)).toBe(false)
  })

  test.each([
    ['resistance=-3', 'resistance is -3; must be above 0'],
    ['inductance=0', 'inductance is 0; must be above 0'],
    ['coulombTorque=-1', 'must not be below 0'],
    ['colour=1', 'needs one of resistance'],
  ])('--fix %s is refused', async (fix, message) => {
    identified()
    const outcome = await run('fit', '--motor', 'm', '--fix', fix)
    expect(outcome.code).toBe(2)
    expect(outcome.err).toContain(message)
  })
})
