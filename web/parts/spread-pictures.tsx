import { useMemo } from 'preact/hooks'
import { quantityText } from '../../src/base/quantity-text.ts'
import { controlChartPicture } from '../../src/output/batch/control-chart-picture.ts'
import { tolerancePicture } from '../../src/output/batch/tolerance-picture.ts'
import type { BatchQuantity } from '../../src/quality/batch-analysis.ts'
import type { CheckChart } from '../../src/quality/check-motor.ts'
import type { SampleVerdict } from '../../src/quality/verdict.ts'
import { Picture } from './picture.tsx'

const WIDTH = 480
const HEIGHT = 110

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
  const chart = useMemo(
    () =>
      q.individuals &&
      controlChartPicture(
        q.individuals,
        q.hits.filter(hit => hit.chart === 'individuals'),
        q.unit,
        WIDTH,
        HEIGHT,
      ),
    [q],
  )
  const { performance, capability } = q
  return (
    <section class="plate stack">
      <h3>{q.label}</h3>
      <p>
        {q.values.length} values, mean {quantityText(q.mean, q.unit).text}
        {q.sigma === null ? '' : `, standard deviation ${quantityText(q.sigma, q.unit).text}`}
        {performance &&
          `, Ppk ${performance.worst.value.toFixed(2)} (${performance.worst.lower95.toFixed(2)} … ${performance.worst.upper95.toFixed(2)})`}
        {capability &&
          `, Cpk ${capability.worst.value.toFixed(2)} (${capability.worst.lower95.toFixed(2)} … ${capability.worst.upper95.toFixed(2)})`}
      </p>
      <Picture drawing={strip} label={`${q.label}: values against the limits`} />
      {chart && <Picture drawing={chart} label={`${q.label}: individuals control chart`} />}
      {q.outlier?.isOutlier && <p>Outlier (Grubbs, 5 %): {q.motors[q.outlier.index]}</p>}
      {q.remarks.map(text => (
        <p key={text} class="quiet">
          {text}
        </p>
      ))}
    </section>
  )
}

/** The control chart of a check motor. */
export function CheckPicture({ check }: { check: CheckChart }) {
  const drawing = useMemo(
    () => check.chart && controlChartPicture(check.chart, check.hits, check.unit, WIDTH, HEIGHT),
    [check],
  )
  if (!drawing) return <p class="quiet">{`${check.label}: ${check.remark}`}</p>
  return (
    <div>
      <p>{check.drift === '' ? `${check.label}: no drift` : check.drift}</p>
      <Picture drawing={drawing} label={`${check.label} of the check motor: control chart`} />
    </div>
  )
}
