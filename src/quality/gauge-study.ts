import { mean } from '../statistics/describe.ts'
import { fP } from '../statistics/distributions.ts'

/** One reading of a part by an operator. */
export interface GaugeReading {
  readonly part: string
  readonly operator: string
  readonly value: number
}

export interface VarianceLine {
  readonly source: 'parts' | 'operators' | 'interaction' | 'repeatability'
  readonly degreesOfFreedom: number
  readonly sumOfSquares: number
  readonly meanSquare: number
  readonly f: number | null
  readonly p: number | null
}

/**
 * Repeatability and reproducibility from a crossed study, by analysis of variance. Standard deviations in
 * the unit of the readings; shares of the total standard deviation.
 */
export interface GaugeStudy {
  readonly table: readonly VarianceLine[]
  /** True where operators and parts do not interact noticeably and the interaction went into the repeatability. */
  readonly interactionPooled: boolean
  readonly repeatability: number
  readonly reproducibility: number
  readonly gauge: number
  readonly parts: number
  readonly total: number
  /** Gauge over total. Common practice, no source: below 10 % good, above 30 % not fit for judging. */
  readonly gaugeShare: number
  /** Number of classes that the gauge can tell apart, 1.41 × parts/gauge, cut off. */
  readonly distinctCategories: number
}

/** Interaction with a larger p is pooled with the repeatability. */
const POOLING_P = 0.25

export type GaugeFault = { readonly text: string }

/**
 * Source: two-way random-effects analysis of variance, e.g. D. C. Montgomery, Design and Analysis of
 * Experiments, chapter 13; the published study it is checked with stands in test/quality.
 */
export function analyseGaugeStudy(
  readings: readonly GaugeReading[],
  options: { pool: 'auto' | boolean } = { pool: 'auto' },
): { ok: true; value: GaugeStudy } | { ok: false; error: GaugeFault } {
  const parts = [...new Set(readings.map(r => r.part))]
  const operators = [...new Set(readings.map(r => r.operator))]
  const cells = parts.map(part =>
    operators.map(operator =>
      readings.filter(r => r.part === part && r.operator === operator).map(r => r.value),
    ),
  )
  const trials = cells[0]?.[0]?.length ?? 0
  const fault = balanceFault(parts, operators, cells, trials)
  if (fault !== null) return { ok: false, error: { text: fault } }

  const grand = mean(readings.map(r => r.value))
  const squares = (means: readonly number[]) => means.reduce((sum, m) => sum + (m - grand) ** 2, 0)
  const p = parts.length
  const o = operators.length
  const ssParts = o * trials * squares(cells.map(row => mean(row.flat())))
  const ssOperators =
    p * trials * squares(operators.map((_, i) => mean(cells.flatMap(row => row[i]!))))
  const ssCells = trials * squares(cells.flatMap(row => row.map(cell => mean(cell))))
  const ssTotal = readings.reduce((sum, r) => sum + (r.value - grand) ** 2, 0)
  const line = (
    source: VarianceLine['source'],
    sumOfSquares: number,
    degreesOfFreedom: number,
  ) => ({
    source,
    sumOfSquares,
    degreesOfFreedom,
    meanSquare: sumOfSquares / degreesOfFreedom,
  })
  const partsLine = line('parts', ssParts, p - 1)
  const operatorsLine = line('operators', ssOperators, o - 1)
  const interaction = line('interaction', ssCells - ssParts - ssOperators, (p - 1) * (o - 1))
  const repeat = line('repeatability', ssTotal - ssCells, p * o * (trials - 1))

  const interactionP = fP(
    interaction.meanSquare / repeat.meanSquare,
    interaction.degreesOfFreedom,
    repeat.degreesOfFreedom,
  )
  const pooled = options.pool === 'auto' ? interactionP > POOLING_P : options.pool
  const error = pooled
    ? line(
        'repeatability',
        interaction.sumOfSquares + repeat.sumOfSquares,
        interaction.degreesOfFreedom + repeat.degreesOfFreedom,
      )
    : interaction
  const tested = (of: typeof partsLine, against: typeof partsLine) => {
    const f = of.meanSquare / against.meanSquare
    return { ...of, f, p: fP(f, of.degreesOfFreedom, against.degreesOfFreedom) }
  }

  const varRepeat = pooled ? error.meanSquare : repeat.meanSquare
  const varInteraction = pooled
    ? 0
    : Math.max(0, (interaction.meanSquare - repeat.meanSquare) / trials)
  const varOperators = Math.max(0, (operatorsLine.meanSquare - error.meanSquare) / (p * trials))
  const varParts = Math.max(0, (partsLine.meanSquare - error.meanSquare) / (o * trials))
  const varGauge = varRepeat + varInteraction + varOperators
  const gauge = Math.sqrt(varGauge)
  const total = Math.sqrt(varGauge + varParts)
  return {
    ok: true,
    value: {
      table: [
        tested(partsLine, error),
        tested(operatorsLine, error),
        tested(interaction, repeat),
        { ...repeat, f: null, p: null },
      ],
      interactionPooled: pooled,
      repeatability: Math.sqrt(varRepeat),
      reproducibility: Math.sqrt(varOperators + varInteraction),
      gauge,
      parts: Math.sqrt(varParts),
      total,
      gaugeShare: gauge / total,
      distinctCategories: Math.floor((Math.SQRT2 * Math.sqrt(varParts)) / gauge),
    },
  }
}

function balanceFault(
  parts: readonly string[],
  operators: readonly string[],
  cells: readonly (readonly (readonly number[])[])[],
  trials: number,
): string | null {
  if (parts.length < 2) return `a gauge study needs at least 2 motors, got ${parts.length}`
  if (operators.length < 2)
    return `a gauge study needs at least 2 operators, got ${operators.length}`
  if (trials < 2) return 'a gauge study needs at least 2 trials of every motor by every operator'
  for (const [i, row] of cells.entries()) {
    for (const [j, cell] of row.entries()) {
      if (cell.length !== trials) {
        return `'${parts[i]}' was measured ${cell.length} times by '${operators[j]}', but ${trials} times elsewhere; every operator measures every motor equally often`
      }
    }
  }
  return null
}
