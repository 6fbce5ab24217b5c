import { intervalText, quantityText, readingText, shareText } from '../../src/base/quantity-text.ts'
import type { FitDocument, ParameterResult } from '../../src/contract/fit-document.ts'
import { PARAMETER_FACTS, PARAMETERS, type ParameterName } from '../../src/records/parameter.ts'
import { celsius, KIND_WORDS } from '../display.ts'
import { Figure } from './basics.tsx'
import { Glyph } from './glyph.tsx'
import { IntervalPicture, type OwnAnswer, relativeReach } from './interval-picture.tsx'
import { ParameterSymbol } from './parameter-symbol.tsx'

/** Every parameter: value with its uncertainty, 95 % interval in figures and drawn, or why there is none. */
export function ParameterTable({ fit, other }: { fit: FitDocument; other: FitDocument | null }) {
  const reach = relativeReach(PARAMETERS.map(name => fit.parameters[name]))
  return (
    <section class="plate" aria-label="Parameters">
      <div class="scroll-x">
        <table class="parameters">
          <thead>
            <tr>
              <th scope="col">
                <span class="unseen">Symbol</span>
              </th>
              <th scope="col">Parameter at {celsius(fit.referenceTemperatureCelsius)}</th>
              <th scope="col">Value (standard uncertainty)</th>
              <th scope="col" class="beside">
                95 % interval
              </th>
              <th scope="col" class="picture">
                ±{shareText(reach)} about the value
              </th>
            </tr>
          </thead>
          <tbody>
            {PARAMETERS.map(name => (
              <Row
                key={name}
                name={name}
                result={fit.parameters[name]}
                other={other?.parameters[name] ?? null}
                own={ownAnswers(fit, name)}
                reach={reach}
              />
            ))}
          </tbody>
        </table>
      </div>
      <p class="quiet small" style={{ marginTop: '10px' }}>
        Bar: 95 % interval. Diamonds: what single tests say on their own.
        {other && ' Thin bar: the fit compared with.'}
        {other &&
          other.referenceTemperatureCelsius !== fit.referenceTemperatureCelsius &&
          ` It is stated for ${celsius(other.referenceTemperatureCelsius)}, this one for ${celsius(fit.referenceTemperatureCelsius)}: R, L and k differ by that alone.`}{' '}
        The figures in parentheses are the standard uncertainty of the last digits.
        {fit.testTemperatureCelsius !== null &&
          ` Winding during the tests: ${celsius(fit.testTemperatureCelsius)}.`}
      </p>
    </section>
  )
}

function Row(props: {
  name: ParameterName
  result: ParameterResult
  other: ParameterResult | null
  own: readonly OwnAnswer[]
  reach: number
}) {
  const { name, result, other, own, reach } = props
  const facts = PARAMETER_FACTS[name]
  if (result.value === null) {
    return (
      <tr class="left-out">
        <td>
          <ParameterSymbol text={facts.symbol} />
        </td>
        <th scope="row">{facts.label}</th>
        <td colSpan={3} class="reason">
          <Status result={result} />{' '}
          {result.reason ??
            (result.status === 'not-in-model' ? 'The runs are explained without it.' : '')}
        </td>
      </tr>
    )
  }
  const { number, unit } = quantityText(result.value, facts.unit, result.standardUncertainty)
  const atTest = result.atTestTemperature
  const interval =
    result.lower95 !== null && result.upper95 !== null && result.status !== 'fixed'
      ? intervalText(result.lower95, result.upper95, facts.unit).text
      : ''
  return (
    <tr>
      <td>
        <ParameterSymbol text={facts.symbol} />
      </td>
      <th scope="row">
        {facts.label}
        <Status result={result} />
      </th>
      <td>
        <Figure number={number} unit={unit} />
        <span class="below small">{interval}</span>
        {typeof atTest === 'number' && atTest !== result.value && (
          <span class="quiet small" style={{ display: 'block' }}>
            {quantityText(atTest, facts.unit, result.standardUncertainty).text} as tested
          </span>
        )}
        {other?.value != null && (
          <span class="quiet small" style={{ display: 'block' }}>
            {quantityText(other.value, facts.unit, other.standardUncertainty).text} compared
            {differenceText(result.value, other.value)}
          </span>
        )}
      </td>
      <td class="number beside">{interval}</td>
      <td class="picture">
        <IntervalPicture
          label={facts.label}
          result={result}
          other={other}
          own={own}
          reach={reach}
        />
      </td>
    </tr>
  )
}

/** How far this fit's value lies from the one compared with: `, +1.2 %`. */
function differenceText(value: number, compared: number): string {
  if (compared === 0 || value === compared) return ''
  const share = value / compared - 1
  return `, here ${share < 0 ? '−' : '+'}${readingText(100 * Math.abs(share), '%', 2).text}`
}

const STATUS = {
  determined: { glyph: 'check', text: 'determined', tone: 'good' },
  tied: { glyph: 'right', text: 'follows from another', tone: 'quiet' },
  fixed: { glyph: 'lock', text: 'held fixed', tone: 'quiet' },
  'not-determined': { glyph: 'warn', text: 'not determined', tone: 'warn' },
  'not-in-model': { glyph: 'minus', text: 'not in the model', tone: 'quiet' },
} as const

/** Shown wherever a value is anything but determined by the data. */
function Status({ result }: { result: ParameterResult }) {
  if (result.status === 'determined') return null
  const { glyph, text, tone } = STATUS[result.status]
  return (
    <span class="stamp" data-tone={tone} style={{ marginLeft: '0.6rem' }}>
      <Glyph name={glyph} />
      {text}
    </span>
  )
}

/** What each test said by itself of one parameter. */
export function ownAnswers(fit: FitDocument, name: ParameterName): OwnAnswer[] {
  return Object.values(fit.separate).flatMap(one => {
    const value = one.values[name]
    if (!value) return []
    const kind = KIND_WORDS[one.kind as keyof typeof KIND_WORDS] ?? one.kind
    return [{ run: one.run, from: `${kind}, run ${one.run}`, ...value }]
  })
}
