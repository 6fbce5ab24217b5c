import { useMemo } from 'preact/hooks'
import { intervalText, quantityText, shareText } from '../../src/base/quantity-text.ts'
import { CHART_WORDS, controlChartPicture } from '../../src/output/batch/control-chart-picture.ts'
import { chancePhrase, meanText, sigmaText } from '../../src/output/batch/spread-words.ts'
import { tolerancePicture } from '../../src/output/batch/tolerance-picture.ts'
import { type BatchQuantity, valuesText } from '../../src/quality/batch-analysis.ts'
import { RUN_RULES } from '../../src/quality/run-rules.ts'
import type { SampleVerdict } from '../../src/quality/verdict.ts'
import { sentence } from '../display.ts'
import { Picture } from './picture.tsx'

/** In the drawing's own units; on screen it is as wide as its column, so that its words can be read. */
const WIDTH = 360
const HEIGHT = 118

/** How one quantity is spread over the batch: tolerance strip, control chart, indices. */
export function SpreadPictures(props: {
  quantity: BatchQuantity
  samples: readonly SampleVerdict[]
}) {
  const { quantity: q, samples } = props
  const strip = useMemo(() => {
    const values = q.values.map((value, i) => {
      const judged = samples
        .find(sample => sample.motor === q.motors[i])
        ?.quantities.find(each => each.quantity === q.quantity)
      return {
        value,
        standardUncertainty: judged?.standardUncertainty ?? null,
        verdict: judged?.verdict ?? ('undecided' as const),
      }
    })
    return tolerancePicture(values, q.band, q.unit, WIDTH, HEIGHT)
  }, [q, samples])
  const charts = useMemo(
    () =>
      q.charts.map(chart => ({
        name: CHART_WORDS[chart.name],
        drawing: controlChartPicture(
          chart,
          q.hits.filter(hit => hit.chart === chart.name),
          q.unit,
          WIDTH,
          HEIGHT,
        ),
      })),
    [q],
  )
  const { performance, capability } = q
  return (
    <section class="plate stack">
      <h3>{q.label}</h3>
      <p>
        {valuesText(q.values.length)}, mean {meanText(q)}
        {q.sigma === null ? '' : `, standard deviation ${sigmaText(q)}`}
        {performance &&
          `, Ppk ${performance.worst.value.toFixed(2)} (${performance.worst.lower95.toFixed(2)} … ${performance.worst.upper95.toFixed(2)})`}
        {capability &&
          `, Cpk ${capability.worst.value.toFixed(2)} (${capability.worst.lower95.toFixed(2)} … ${capability.worst.upper95.toFixed(2)})`}
        {q.normality && `, normality ${chancePhrase(q.normality.p)}`}
      </p>
      {q.tolerance && (
        <p>
          {shareText(q.tolerance.coverage)} of the motors lie within{' '}
          {intervalText(q.tolerance.lower, q.tolerance.upper, q.unit).text} (
          {shareText(q.tolerance.confidence)} confidence)
        </p>
      )}
      <div class="charts">
        <figure>
          <figcaption class="quiet small">Values against the limits</figcaption>
          <Picture drawing={strip} label={`${q.label}: values against the limits`} />
        </figure>
        {charts.map(({ name, drawing }) => (
          <figure key={name}>
            <figcaption class="quiet small">{name}</figcaption>
            <Picture drawing={drawing} label={`${q.label}: control chart, ${name.toLowerCase()}`} />
          </figure>
        ))}
      </div>
      {[...new Set(q.hits.map(hit => RUN_RULES[hit.rule]))].map(text => (
        <p key={text}>Run rule: {text}</p>
      ))}
      {q.outlier?.isOutlier && <p>Outlier (Grubbs, 5 %): {q.motors[q.outlier.index]}</p>}
      {q.remarks.map(text => (
        <p key={text} class="quiet">
          {sentence(text)}.
        </p>
      ))}
      <details>
        <summary>As a table</summary>
        <SpreadTable quantity={q} />
      </details>
    </section>
  )
}

/** What the pictures show, in numbers. */
function SpreadTable({ quantity: q }: { quantity: BatchQuantity }) {
  const show = (value: number) => quantityText(value, q.unit).text
  return (
    <div class="samples-scroll">
      {q.charts.length > 0 && (
        <table class="samples-table">
          <thead>
            <tr>
              <th scope="col">Chart</th>
              <th scope="col" class="number">
                Lower limit
              </th>
              <th scope="col" class="number">
                Centre
              </th>
              <th scope="col" class="number">
                Upper limit
              </th>
              <th scope="col">Run rules broken, and at which point</th>
            </tr>
          </thead>
          <tbody>
            {q.charts.map(chart => (
              <tr key={chart.name}>
                <th scope="row">{CHART_WORDS[chart.name]}</th>
                <td class="number">{show(chart.lower[0]!)}</td>
                <td class="number">{show(chart.centre)}</td>
                <td class="number">{show(chart.upper[0]!)}</td>
                <td>
                  {q.hits
                    .filter(hit => hit.chart === chart.name)
                    .map(hit => `${RUN_RULES[hit.rule]} (${hit.at + 1})`)
                    .join('; ') || 'none'}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      <table class="samples-table">
        <thead>
          <tr>
            <th scope="col">Motor</th>
            <th scope="col" class="number">
              {q.label}
            </th>
          </tr>
        </thead>
        <tbody>
          {q.motors.map((motor, i) => (
            <tr key={motor}>
              <th scope="row">{motor}</th>
              <td class="number">{show(q.values[i]!)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}
