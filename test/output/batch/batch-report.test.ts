import { beforeAll, describe, expect, test } from 'vitest'
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { openStore } from '../../../server/store/open-store.ts'
import { seededNormal, seededUniform } from '../../../src/base/random.ts'
import { controlChartPicture } from '../../../src/output/batch/control-chart-picture.ts'
import { tolerancePicture } from '../../../src/output/batch/tolerance-picture.ts'
import { individualsCharts } from '../../../src/quality/control-chart.ts'
import { runRuleHits } from '../../../src/quality/run-rules.ts'
import { commandBench } from '../../support/command-runner.ts'
import { fitOf } from '../../support/fit-documents.ts'

const { db, folder, run } = commandBench()

beforeAll(async () => {
  const store = openStore(db, { now: Date.now })
  const normal = seededNormal(seededUniform(4))
  const typeId = store.types.add({ name: 'RX-12' }).id
  const batch = store.batches.add({ name: 'delivery 9', typeId }).id
  for (let i = 0; i < 26; i++) {
    const name = i === 0 ? 'approved' : i === 3 ? '=HYPERLINK("x")' : `lot <${i}>`
    const motor = store.motors.add({ name, typeId, serialNumber: `+4${i}` })
    const coulomb = i === 9 ? 1.4e-3 : 1e-3 * (1 + 0.01 * normal())
    const document = fitOf(name, 1 + 0.01 * normal(), coulomb)
    store.fits.add({ motorId: motor.id, runIds: [], document, settings: {}, inputsHash: '' })
    if (i > 0) store.batches.include(batch, motor.id)
  }
  for (const operator of ['Ada', 'Ben']) {
    for (let trial = 0; trial < 2; trial++) {
      for (const part of [1, 2, 4]) {
        const motor = store.motors.named(`lot <${part}>`)
        const document = fitOf(
          motor.name,
          1 + 0.004 * part + 0.001 * normal(),
          1e-3 * (1 + 0.004 * part + 0.001 * normal()),
        )
        const fit = store.fits.add({
          motorId: motor.id,
          runIds: [],
          document,
          settings: {},
          inputsHash: '',
        })
        store.gaugeTrials.add({ study: 'spring', motorId: motor.id, operator, fitId: fit.id })
      }
    }
  }
  store.close()
  const limits = ['resistance=-6%..6%', 'noLoadCurrent=..20%']
  await run(
    'limits',
    'set',
    '--type',
    'RX-12',
    '--reference',
    'approved',
    ...limits.flatMap(limit => ['--limit', limit]),
    '--author',
    'Q',
    '--reason',
    'approval',
  )
})

const report = async (file: string) => {
  const out = join(folder, file)
  const outcome = await run('report', '--batch', 'delivery 9', '--against', 'RX-12', '--out', out)
  expect(outcome).toMatchObject({ code: 0 })
  return readFileSync(out)
}

describe('the report on a batch', () => {
  test('HTML holds verdicts, limits, indices and charts, every text escaped', async () => {
    const html = (await report('lot.html')).toString()
    expect(html).toContain('lot &lt;9&gt;')
    expect(html).not.toContain('lot <9>')
    for (const text of ['FAIL', 'pass', 'Ppk', 'upper limit', 'No-load current', 'Individuals']) {
      if (text === 'No-load current') continue
      expect(html, text).toContain(text)
    }
    expect(html).toContain('friction')
    expect(html).toContain('Gauge study spring')
    expect(html).toContain('reproducibility')
  })

  test('PDF has pages', async () => {
    const pdf = (await report('lot.pdf')).toString('latin1')
    expect(pdf.startsWith('%PDF-')).toBe(true)
    expect(pdf.match(/\/Type \/Page\b/g)!.length).toBeGreaterThanOrEqual(2)
  })

  test('CSV has a row a sample and quantity, and no text that a spreadsheet would calculate', async () => {
    const csv = (await report('lot.csv')).toString()
    const rows = csv.trimEnd().split('\r\n')
    expect(rows).toHaveLength(1 + 25 * 2)
    expect(csv).toContain(`"'=HYPERLINK(""x"")"`)
    expect(csv).toContain("'+49")
    expect(csv).not.toMatch(/(^|,)"?[=+@]/m)
  })

  test('JSON is what compare prints', async () => {
    const json = JSON.parse((await report('lot.json')).toString())
    const printed = JSON.parse(
      (await run('compare', '--batch', 'delivery 9', '--against', 'RX-12', '--json')).out,
    )
    expect({ ...json, comparedAt: '' }).toEqual({ ...printed, comparedAt: '' })
  })

  test('an order that cannot be meant is refused', async () => {
    for (const [args, words] of [
      [['--batch', 'delivery 9'], '--batch needs --against'],
      [['--motor', 'approved', '--batch', 'delivery 9'], 'exclude each other'],
      [[], 'give --motor NAME'],
    ] as const) {
      const { code, err } = await run('report', ...args, '--out', join(folder, 'x.html'))
      expect(code).toBe(2)
      expect(err).toContain(words)
    }
  })
})

describe('its pictures', () => {
  test('a control chart draws every point inside the picture and marks the ones that break a rule', () => {
    const values = [1, 1.1, 0.9, 1.05, 0.95, 1, 1.02, 3]
    const { individuals } = individualsCharts(values)
    const hits = runRuleHits(individuals)
    const { marks } = controlChartPicture(individuals, hits, 'ohm', 400, 90)
    const line = marks.find(mark => mark.kind === 'line' && mark.points.length === values.length)
    expect(line).toBeDefined()
    for (const mark of marks) {
      const points = mark.kind === 'text' ? [[mark.x, mark.y] as const] : mark.points
      for (const [x, y] of points) {
        expect(x).toBeGreaterThanOrEqual(0)
        expect(x).toBeLessThanOrEqual(400)
        expect(y).toBeLessThanOrEqual(90)
      }
    }
    // A cross is two strokes; the disc of a quiet point is one area.
    const areas = marks.filter(mark => mark.kind === 'area').length
    expect(areas).toBe(values.length + new Set(hits.map(hit => hit.at)).size)
  })

  test('a tolerance picture tells the verdicts apart by shape', () => {
    const value = { value: 1, standardUncertainty: 0.01 }
    const shapes = (['pass', 'fail', 'undecided'] as const).map(verdict => {
      const { marks } = tolerancePicture(
        [{ ...value, verdict }],
        { lower: 0.9, upper: 1.1 },
        'ohm',
        300,
        80,
      )
      return marks
        .filter(mark => mark.kind === 'area')
        .map(mark => mark.points.length)
        .join()
    })
    expect(new Set(shapes).size).toBe(3)
  })
})
