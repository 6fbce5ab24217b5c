import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, test } from 'vitest'
import { openStore } from '../../server/store/open-store.ts'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { motorModel } from '../../src/contract/motor-model.ts'
import { PARAMETER_FACTS, type ParameterName } from '../../src/records/parameter.ts'
import { commandBench } from '../support/command-runner.ts'
import { fitOf } from '../support/fit-documents.ts'
import { projectFile } from '../../server/files/project-file.ts'

const { folder, db, run } = commandBench()

const VALUES: Readonly<Partial<Record<ParameterName, number>>> = {
  resistance: 5.47,
  inductance: 2.6e-3,
  backEmfConstant: 0.0343,
  torqueConstant: 0.0343,
  coulombTorque: 2.2e-3,
  inertia: 3.6e-6,
}

function fitWith(motor: string, values: typeof VALUES): FitDocument {
  const parameters = Object.fromEntries(
    Object.entries(PARAMETER_FACTS).map(([name, { unit }]) => {
      const value = values[name as ParameterName] ?? null
      const status = value === null ? 'not-determined' : 'determined'
      const reason = value === null ? 'nothing ran up' : undefined
      return [
        name,
        {
          unit,
          status,
          value,
          standardUncertainty: value && value / 100,
          lower95: null,
          upper95: null,
          reason,
        },
      ]
    }),
  ) as FitDocument['parameters']
  return fitOf(motor, 1, 1, { parameters })
}

beforeAll(async () => {
  await run(
    'import',
    projectFile('datasets/examples/hazelnut-24-run-up.csv'),
    '--motor',
    'm, unlabelled',
    '--test',
    'run-up',
  )
  const store = openStore(db, { now: Date.now })
  for (const [name, values] of [
    ['m, unlabelled', VALUES],
    ['half', { ...VALUES, inertia: undefined! }],
  ] as const) {
    const motor = store.motors.ensure(name)
    const document = fitWith(name, values)
    const runIds = store.runs.list({ motorId: motor.id }).map(one => one.id)
    store.fits.add({ motorId: motor.id, runIds, document, settings: {}, inputsHash: '' })
  }
  store.close()
})

const out = (name: string) => join(folder, name)
const exported = (file: string, ...more: string[]) =>
  run('export-model', '--motor', 'm, unlabelled', '--out', file, ...more)

describe('an identified motor leaves', () => {
  test('as JSON, as its schema says, with what its runs measured', async () => {
    const { code, out: printed } = await exported(out('m.json'))
    expect(code).toBe(0)
    expect(printed).toBe('')
    const model = motorModel.parse(JSON.parse(readFileSync(out('m.json'), 'utf8')))
    expect(model.parameters.resistance).toMatchObject({
      value: 5.47,
      status: 'determined',
      symbol: 'R',
    })
    const voltage = model.tested.find(one => one.quantity === 'voltage')!
    // The example is a run-up to 24 V.
    expect(voltage.highest).toBeGreaterThan(23)
    expect(voltage.highest).toBeLessThan(26)
  })

  test('as SPICE and Modelica, with uncertainty and validity at the head', async () => {
    for (const [file, head] of [
      ['m.cir', '* '],
      ['m.mo', '// '],
    ] as const) {
      expect((await exported(out(file))).code).toBe(0)
      const text = readFileSync(out(file), 'utf8')
      expect(text.startsWith(head)).toBe(true)
      expect(text).toContain('motor_m_unlabelled')
      expect(text).toContain('standard uncertainty 0.055')
      expect(text).toContain('Valid where the motor was tested: voltage')
      expect(text).toMatch(/^[\x20-\x7e\n]*$/)
    }
  })

  test('says under which name Modelica tools look for it', async () => {
    const { err } = await exported(out('other.mo'))
    expect(err).toContain('motor_m_unlabelled.mo')
  })
})

describe('no model', () => {
  test('over a file that is there', async () => {
    await exported(out('twice.cir'))
    const again = await exported(out('twice.cir'))
    expect(again.code).toBe(2)
    expect(again.err).toContain('is there already; --force overwrites it')
    expect((await exported(out('twice.cir'), '--force')).code).toBe(0)
  })

  test('with an ending that says nothing', async () => {
    const { code, err } = await exported(out('m.txt'))
    expect(code).toBe(2)
    expect(err).toContain('it can be .cir (SPICE), .mo (Modelica) or .json')
  })

  test('without an inertia: the reason and the way out in one line, no file', async () => {
    const file = out('half.cir')
    const { code, err } = await run('export-model', '--motor', 'half', '--out', file)
    expect(code).toBe(2)
    expect(err).toContain(
      "a model needs the rotor inertia, which this fit has not determined (nothing ran up); 'rotorfit fit --fix inertia=VALUE' holds one that you know",
    )
    expect(existsSync(file)).toBe(false)
  })
})
