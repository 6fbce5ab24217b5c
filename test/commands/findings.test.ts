import { existsSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { projectFile } from '../../server/files/project-file.ts'
import { openStore } from '../../server/store/open-store.ts'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { practiceHeatingRun } from '../../src/practice-rig/heating-run.ts'
import { commandBench } from '../support/command-runner.ts'
import { expectRelative } from '../support/expect-relative.ts'
import { fitOf } from '../support/fit-documents.ts'
import { importRun } from '../support/import-run.ts'
import { practiceMotor } from '../support/practice.ts'

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

  test('an earlier identification can be asked for by its number', async () => {
    identified()
    const store = openStore(db, { now: Date.now })
    const motorId = store.motors.named('m').id
    const document = fitOf('m', 2, 1e-3, { runs: [2] })
    const later = store.fits.add({ motorId, runIds: [], document, settings: {}, inputsHash: '' })
    store.close()
    const drive = projectFile('datasets/examples/drive-24v.json')
    const order = ['withstand', '--motor', 'm', '--drive', drive]
    expect((await run(...order)).err).toContain(`from identification ${later.id} of 'm'`)
    const earlier = await run(...order, '--identification', '1')
    expect(earlier.err).toMatch(/from identification 1 of 'm', .* UTC, runs 1\n/)
    const none = await run(...order, '--identification', '99')
    expect(none).toMatchObject({ code: 2, out: '' })
    expect(none.err).toContain("--identification 99: 'm' has ")
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

describe('the winding takes heat as its heating run showed', () => {
  test('so a stall has a time to the limit, without the drive file stating anything', async () => {
    const motor = practiceMotor('peppercorn-3')
    await importRun({ folder, run }, practiceHeatingRun(motor, 21), 'toy')
    const store = openStore(db, { now: Date.now })
    const { resistance, coulombTorque } = fitOf('toy', 1.5, 1e-4).parameters
    const brushDrop = { ...resistance, unit: 'V', value: 0.1, standardUncertainty: 0.02 }
    const document = fitOf('toy', 1.5, 1e-4, {
      parameters: { resistance, coulombTorque, brushDrop } as FitDocument['parameters'],
    })
    const motorId = store.motors.named('toy').id
    store.fits.add({ motorId, runIds: [], document, settings: {}, inputsHash: '' })
    store.close()
    const drive = JSON.parse(readFileSync(projectFile('datasets/examples/drive-24v.json'), 'utf8'))
    const file = join(folder, 'no-heat.json')
    writeFileSync(file, JSON.stringify({ ...drive, windingHeatJoulePerKelvin: undefined }))
    const { code, out, err } = await run('withstand', '--motor', 'toy', '--drive', file, '--json')
    expect(code).toBe(0)
    expect(err).toContain('heat capacity of the winding from heating run')
    const stall = JSON.parse(out).findings.find((f: { id: string }) => f.id === 'stallTime')
    expect(stall.value).toBeGreaterThan(0)
    const heat = stall.inputs.find(
      (one: { name: string }) => one.name === 'winding takes, by heating run 1',
    )
    expectRelative(heat.value, motor.thermal.windingJPerK, 0.1)
    // What the heating run leaves open of the heat is in the time as well.
    const share = heat.standardUncertainty / heat.value
    expect(share).toBeGreaterThan(0.005)
    expect(stall.standardUncertainty / stall.value).toBeGreaterThan(share)
  }, 30_000)
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
