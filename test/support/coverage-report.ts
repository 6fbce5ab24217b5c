import type { ParameterName } from '../../src/records/parameter.ts'
import type { CoverageSample, ParameterSample, Study } from './coverage-sample.ts'

export interface CoverageLine {
  readonly group: string
  readonly name: ParameterName
  readonly fits: number
  /** Fits without a value of the parameter; left out of what follows. */
  readonly notDetermined: number
  readonly rootMeanSquare: number
  readonly meanError: number
  /** Median of the standard uncertainties. */
  readonly uncertainty: number
  /** Share of the 95 % intervals that hold the truth. */
  readonly held: number
}

export function coverageLines(samples: readonly CoverageSample[]): CoverageLine[] {
  const groups = new Map<string, ParameterSample[]>()
  for (const { group, parameters } of samples) {
    for (const parameter of parameters) {
      const key = `${group}/${parameter.name}`
      const list = groups.get(key)
      if (list === undefined) groups.set(key, [parameter])
      else list.push(parameter)
    }
  }
  return [...groups].map(([key, list]) => {
    const told = list.flatMap(({ error, standardUncertainty, held }) =>
      error === null ? [] : [{ error, standardUncertainty: standardUncertainty!, held }],
    )
    return {
      group: key.split('/')[0]!,
      name: list[0]!.name,
      fits: list.length,
      notDetermined: list.length - told.length,
      rootMeanSquare: Math.sqrt(mean(told.map(({ error }) => error ** 2))),
      meanError: mean(told.map(({ error }) => error)),
      uncertainty: median(told.map(({ standardUncertainty }) => standardUncertainty)),
      held: mean(told.map(({ held }) => (held ? 1 : 0))),
    }
  })
}

export function coverageReport(study: Study, samples: readonly CoverageSample[]): string {
  const lines = coverageLines(samples)
  const percent = (value: number, digits: number) => `${(100 * value).toFixed(digits)} %`
  const size = (value: number) => (study === 'model' ? value.toFixed(3) : percent(value, 3))
  const unit = study === 'model' ? 'over the bound' : 'of the truth'
  const head = [
    `| ${study === 'model' ? 'brush drop' : 'motor'} | parameter | fits | no value | rms error ${unit} | mean error | median u | intervals that hold the truth |`,
    '|---|---|---|---|---|---|---|---|',
  ]
  const rows = lines.map(
    l =>
      `| ${l.group} | ${l.name} | ${l.fits} | ${l.notDetermined} | ${size(l.rootMeanSquare)} | ${size(l.meanError)} | ${size(l.uncertainty)} | ${percent(l.held, 1)} |`,
  )
  return [...head, ...rows, ...(study === 'rig' ? ['', ...overMotors(lines)] : [])].join('\n')
}

/** Medians over the motors, and how often the intervals hold the truth over all. */
function overMotors(lines: readonly CoverageLine[]): string[] {
  const names = [...new Set(lines.map(({ name }) => name))]
  return [
    '| parameter | rms error, median over motors | worst motor | median u over rms error, median over motors | intervals that hold the truth |',
    '|---|---|---|---|---|',
    ...names.map(name => {
      const own = lines.filter(line => line.name === name && line.fits > line.notDetermined)
      const errors = own.map(line => line.rootMeanSquare)
      const ratio = median(own.map(line => line.uncertainty / line.rootMeanSquare))
      const told = own.reduce((sum, line) => sum + line.fits - line.notDetermined, 0)
      const held = own.reduce((sum, l) => sum + l.held * (l.fits - l.notDetermined), 0) / told
      const percent = (value: number) => `${(100 * value).toFixed(3)} %`
      return `| ${name} | ${percent(median(errors))} | ${percent(Math.max(...errors))} | ${ratio.toFixed(2)} | ${(100 * held).toFixed(1)} % |`
    }),
  ]
}

const mean = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b)
  const half = sorted.length >> 1
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2
}
