import { intervalText, quantityText, shareText } from '../../base/quantity-text.ts'
import { type BatchQuantity, valuesText } from '../../quality/batch-analysis.ts'
import type { BatchComparison } from '../../quality/batch-comparison.ts'
import type { Index, SpreadIndices } from '../../quality/capability.ts'
import type { DecisionRule } from '../../quality/conformity.ts'
import { RUN_RULES } from '../../quality/run-rules.ts'
import { type Drawing, lineMark, type Mark, textMark } from '../drawing.ts'
import { heading, paragraph, plate, signatures, table } from '../sheet/blocks.ts'
import { type Block, columnWidth, flow, gap, signed } from '../sheet/flow.ts'
import { MARGIN, type PaperName } from '../sheet/paper.ts'
import { minute } from '../sheet/sheet-words.ts'
import { CHART_WORDS, controlChartPicture } from './control-chart-picture.ts'
import { gaugePicture } from './gauge-picture.ts'
import { wordsOf } from './sample-words.ts'
import { chancePhrase, chanceText, meanText, sigmaText } from './spread-words.ts'
import { tolerancePicture } from './tolerance-picture.ts'
import { VERDICT_WORD, verdictMarks } from './verdict-mark.ts'

export interface BatchReport {
  readonly comparison: BatchComparison
  /** Name and version. */
  readonly program: string
}

/** The report on a batch, page by page: verdicts first, then how each quantity is spread. */
export function batchPages({ comparison, program }: BatchReport, paper: PaperName): Drawing[] {
  const width = columnWidth(paper)
  const blocks: Block[] = [
    title(comparison, width),
    paragraph(comparison.batch, width, { size: 17, bold: true }),
    gap(4),
    plate(facts(comparison), width),
    gap(4),
    ...comparison.warnings.map(text => paragraph(`Warning: ${text}`, width, { ink: 'warn' })),
    ...limits(comparison, width),
    ...verdicts(comparison, width),
    ...comparison.quantities.flatMap(quantity => spread(comparison, quantity, width)),
    ...otherBatch(comparison, width),
    ...bench(comparison, width),
    ...studies(comparison, width),
  ]
  const lines = signatures(['Judged by, date, signature', 'Released by, date, signature'], width)
  const pages = flow(signed(blocks, lines), paper)
  return pages.map((page, index) => ({
    ...page,
    marks: [
      ...page.marks,
      ...footer(
        `${program} · ${comparison.batch} against ${comparison.type}`,
        page,
        index + 1,
        pages.length,
      ),
    ],
  }))
}

function title({ comparedAt }: BatchComparison, width: number): Block {
  return {
    height: 34,
    marks: [
      textMark(0, 12, 'Production samples', { size: 9, ink: 'quiet' }),
      textMark(width, 12, `judged ${minute(comparedAt)}`, { size: 8, ink: 'quiet', anchor: 'end' }),
      lineMark(
        [
          [0, 18],
          [width, 18],
        ],
        { ink: 'ink', width: 1.6 },
      ),
    ],
  }
}

function facts({ type, counts, limits: set, rule }: BatchComparison): [string, string][] {
  return [
    ['Against type', type],
    ['Pass', String(counts.pass)],
    ['Fail', String(counts.fail)],
    ['Undecided', String(counts.undecided)],
    ['Decision rule', ruleText(rule)],
    ['Limits by', `${set.author}, ${minute(set.setAt)}`],
    ['Reason', set.reason],
    ['At', `${set.referenceTemperatureCelsius} °C`],
  ]
}

export function ruleText(rule: DecisionRule): string {
  switch (rule.kind) {
    case 'simple':
      return 'simple acceptance, no guard band'
    case 'conformity':
      return `${shareText(rule.probability)} conformity`
    case 'consumer-risk':
      return `consumer's risk at most ${shareText(rule.risk)}`
    default:
      return rule satisfies never
  }
}

const show = (value: number | null, unit: string) =>
  value === null ? '' : quantityText(value, unit).text

function limits({ resolved, quantities }: BatchComparison, width: number): Block[] {
  const label = (name: string) => quantities.find(q => q.quantity === name)?.label ?? name
  return [
    heading('Limits', width),
    ...table(
      [
        { title: 'quantity', width: width - 300, align: 'start' },
        { title: 'lower', width: 100, align: 'end' },
        { title: 'reference', width: 100, align: 'end' },
        { title: 'upper', width: 100, align: 'end' },
      ],
      resolved.map(limit => [
        label(limit.quantity),
        show(limit.band.lower, limit.unit),
        show(limit.nominal, limit.unit),
        show(limit.band.upper, limit.unit),
      ]),
    ),
    gap(8),
  ]
}

function verdicts({ samples }: BatchComparison, width: number): Block[] {
  const columns = [
    { title: '', width: 16, align: 'start' as const },
    { title: 'verdict', width: 62, align: 'start' as const },
    { title: 'motor', width: 106, align: 'start' as const },
    { title: 'serial number', width: 86, align: 'start' as const },
    { title: 'what stands out', width: width - 270, align: 'start' as const },
  ]
  const rows = table(
    columns,
    samples.map(sample => [
      '',
      VERDICT_WORD[sample.verdict],
      sample.motor,
      sample.serialNumber,
      wordsOf(sample),
    ]),
  )
  return [
    heading('Verdicts', width),
    ...rows.map((row, index) => {
      const sample = samples[index - 1]
      return sample
        ? { ...row, marks: [...row.marks, ...verdictMarks(5, 8.6, 3.4, sample.verdict)] }
        : row
    }),
    gap(8),
  ]
}

const CHART_HEIGHT = 84

function spread(comparison: BatchComparison, q: BatchQuantity, width: number): Block[] {
  const verdictOf = (motor: string) =>
    comparison.samples.find(s => s.motor === motor)?.quantities.find(v => v.quantity === q.quantity)
  const strip = tolerancePicture(
    q.values.map((value, i) => {
      const judged = verdictOf(q.motors[i]!)
      return {
        value,
        standardUncertainty: judged?.standardUncertainty ?? null,
        verdict: judged?.verdict ?? 'undecided',
      }
    }),
    q.band,
    q.unit,
    width,
    CHART_HEIGHT,
  )
  const charts = q.charts.flatMap((chart): Block[] => [
    { ...paragraph(CHART_WORDS[chart.name], width, { size: 7.6, ink: 'quiet' }), withNext: true },
    {
      height: CHART_HEIGHT,
      marks: controlChartPicture(
        chart,
        q.hits.filter(hit => hit.chart === chart.name),
        q.unit,
        width,
        CHART_HEIGHT,
      ).marks,
    },
  ])
  return [
    heading(q.label, width),
    { height: strip.height, marks: strip.marks },
    ...table(
      [
        { title: 'values, mean, standard deviation', width: 190, align: 'start' },
        { title: 'performance, capability', width: 170, align: 'start' },
        { title: 'spread and normality', width: width - 360, align: 'start' },
      ],
      [
        [
          `${valuesText(q.values.length)}, ${meanText(q)}, ${sigmaText(q) || 'none'}`,
          [indexText('P', q.performance), indexText('C', q.capability)]
            .filter(Boolean)
            .join('; ') || 'none',
          [
            q.tolerance
              ? `${shareText(q.tolerance.coverage)} lie within ${intervalText(q.tolerance.lower, q.tolerance.upper, q.unit).text} (${shareText(q.tolerance.confidence)} confidence)`
              : '',
            q.normality ? `normality ${chancePhrase(q.normality.p)}` : '',
            q.outlier?.isOutlier ? `outlier (Grubbs, 5 %): ${q.motors[q.outlier.index]}` : '',
          ]
            .filter(Boolean)
            .join('; '),
        ],
      ],
    ),
    ...charts,
    ...[...new Set(q.hits.map(hit => RUN_RULES[hit.rule]))].map(text =>
      paragraph(`Run rule: ${text}`, width, { ink: 'warn' }),
    ),
    ...q.remarks.map(text => paragraph(text, width, { ink: 'quiet' })),
    gap(8),
  ]
}

function indexText(letter: 'P' | 'C', indices: SpreadIndices | null): string {
  if (!indices) return ''
  const one = (name: string, index: Index) =>
    `${name} ${index.value.toFixed(2)} (${index.lower95.toFixed(2)} … ${index.upper95.toFixed(2)})`
  const both = indices.both ? `${one(`${letter}p`, indices.both)}, ` : ''
  return `${both}${one(`${letter}pk`, indices.worst)}`
}

function otherBatch({ against }: BatchComparison, width: number): Block[] {
  if (!against) return []
  return [
    heading(`Means against ${against.batch} (Welch)`, width),
    ...table(
      [
        { title: 'quantity', width: width - 300, align: 'start' },
        { title: 'difference', width: 90, align: 'end' },
        { title: '95 % interval', width: 150, align: 'end' },
        { title: 'p', width: 60, align: 'end' },
      ],
      against.means.map(({ label, unit, comparison: c }) => [
        label,
        show(c.difference, unit),
        intervalText(c.lower95, c.upper95, unit).text,
        chanceText(c.p),
      ]),
    ),
    gap(8),
  ]
}

function bench({ bench: checks }: BatchComparison, width: number): Block[] {
  return checks.flatMap(check => [
    heading(`Check motor ${check.motor}${check.rig === null ? '' : `, rig ${check.rig}`}`, width),
    paragraph(`Last measured ${minute(check.measuredAt)} by ${check.operator}.`, width),
    ...check.charts.flatMap(({ chart, hits, label, unit, remark }): Block[] => [
      {
        ...paragraph(remark === '' ? label : `${label}: ${remark}`, width, {
          size: 7.6,
          ink: 'quiet',
        }),
        withNext: chart !== null,
      },
      ...(chart
        ? [
            {
              height: CHART_HEIGHT,
              marks: controlChartPicture(chart, hits, unit, width, CHART_HEIGHT).marks,
            },
          ]
        : []),
    ]),
    gap(8),
  ])
}

function studies({ studies: studied }: BatchComparison, width: number): Block[] {
  return studied.flatMap(({ study, label, result }) => {
    const { height, marks } = gaugePicture(result, width)
    const classes = `the bench tells ${result.distinctCategories} classes of motor apart`
    return [
      heading(`Gauge study ${study}`, width),
      {
        ...paragraph(`${label}: shares of the total standard deviation; ${classes}`, width),
        withNext: true,
      },
      { height: height + 8, marks },
    ]
  })
}

function footer(text: string, page: Drawing, number: number, count: number): Mark[] {
  const y = page.height - 24
  const right = page.width - MARGIN.right
  return [
    lineMark([
      [MARGIN.left, y - 11],
      [right, y - 11],
    ]),
    textMark(MARGIN.left, y, text.slice(0, 90), { size: 7.2, ink: 'quiet' }),
    textMark(right, y, `page ${number} of ${count}`, { size: 7.2, ink: 'quiet', anchor: 'end' }),
  ]
}
