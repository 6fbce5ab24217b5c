import { useMemo } from 'preact/hooks'
import { readingText, shareText } from '../../src/base/quantity-text.ts'
import type { StudyPage } from '../../src/contract/http-samples.ts'
import { chanceText } from '../../src/output/batch/spread-words.ts'
import { gaugePicture } from '../../src/output/batch/gauge-picture.ts'
import type { StudiedQuantity } from '../../src/quality/batch-comparison.ts'
import type { GaugeStudy } from '../../src/quality/gauge-study.ts'
import { sentence } from '../display.ts'
import { go, withQuery } from '../router.ts'
import { Picture } from './picture.tsx'

const WIDTH = 420

/** What the study says of one quantity: a picture, words, and the analysis of variance. */
export function StudyResult({ page, chosen }: { page: StudyPage; chosen: string | null }) {
  const results = page.results as unknown as readonly StudiedQuantity[]
  const shown = results.find(each => each.quantity === chosen) ?? results[0]
  const drawing = useMemo(() => shown && gaugePicture(shown.result, WIDTH), [shown])
  if (!shown || !drawing) {
    return (
      <section class="plate stack">
        <h2>What it says</h2>
        <p>Nothing yet: {page.remark || 'its tests determined no number in common'}.</p>
      </section>
    )
  }
  const { result, unit, label } = shown
  return (
    <section class="plate stack">
      <div class="row apart">
        <h2>What it says</h2>
        <label class="pick">
          <span class="label">Quantity</span>
          <select
            value={shown.quantity}
            onChange={event => go(withQuery({ quantity: event.currentTarget.value }))}
          >
            {results.map(each => (
              <option key={each.quantity} value={each.quantity}>
                {each.label}
              </option>
            ))}
          </select>
        </label>
      </div>
      <p>{wordsOf(label, result)}</p>
      <div class="study-picture">
        <Picture
          drawing={drawing}
          label={`${label}: standard deviations as shares of the total standard deviation`}
        />
      </div>
      <Spreads result={result} unit={unit} />
      <Variance result={result} />
      <p class="quiet small">
        Below 10 % of the total a bench is called good, above 30 % not fit for judging: common
        practice.
      </p>
    </section>
  )
}

function wordsOf(label: string, { gaugeShare, distinctCategories, interactionPooled }: GaugeStudy) {
  const verdict =
    gaugeShare < 0.1
      ? 'the bench is good for it'
      : gaugeShare <= 0.3
        ? 'the bench will do where not much hangs on it'
        : 'the bench is not fit for judging it'
  const interaction = interactionPooled
    ? 'operators and motors do not interact, so that went into the repeatability'
    : 'operators and motors interact: some operators measure some motors differently'
  return `${label}: bench and operators make ${shareText(gaugeShare)} of the total spread; ${verdict}. It tells ${distinctCategories} classes of motor apart. ${sentence(interaction)}.`
}

function Spreads({ result, unit }: { result: GaugeStudy; unit: string }) {
  const rows = [
    ['Repeatability', result.repeatability],
    ['Reproducibility', result.reproducibility],
    ['Bench and operators together', result.gauge],
    ['Motors', result.parts],
    ['Total', result.total],
  ] as const
  return (
    <div class="samples-scroll">
      <table class="samples-table">
        <thead>
          <tr>
            <th scope="col">Spread</th>
            <th scope="col" class="number">
              Standard deviation
            </th>
            <th scope="col" class="number">
              Of the total
            </th>
          </tr>
        </thead>
        <tbody>
          {rows.map(([name, sigma]) => (
            <tr key={name}>
              <th scope="row">{name}</th>
              <td class="number">{readingText(sigma, unit, 3).text}</td>
              <td class="number">{result.total > 0 ? shareText(sigma / result.total) : ''}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}

function Variance({ result }: { result: GaugeStudy }) {
  return (
    <details>
      <summary>Analysis of variance</summary>
      <div class="samples-scroll">
        <table class="samples-table">
          <thead>
            <tr>
              <th scope="col">Source</th>
              <th scope="col" class="number">
                Degrees of freedom
              </th>
              <th scope="col" class="number">
                F
              </th>
              <th scope="col" class="number">
                p
              </th>
            </tr>
          </thead>
          <tbody>
            {result.table.map(line => (
              <tr key={line.source}>
                <th scope="row">{sentence(line.source)}</th>
                <td class="number">{line.degreesOfFreedom}</td>
                <td class="number">{line.f?.toPrecision(3) ?? ''}</td>
                <td class="number">{line.p === null ? '' : chanceText(line.p)}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </details>
  )
}
