import { quantityText } from '../../src/base/quantity-text.ts'
import type { ParameterResult } from '../../src/contract/fit-document.ts'

export interface OwnAnswer {
  readonly run: number
  readonly from: string
  readonly unit: string
  readonly value: number
  readonly standardUncertainty: number | null
}

const WIDTH = 300
const HALF = 140
const MIDDLE = 17

/** A value and where it lies with 95 %. */
export type Ranged = Pick<ParameterResult, 'value' | 'lower95' | 'upper95'>

/**
 * One scale for the whole table, as a share of the value, so that what is known well and what badly
 * is seen at once: wide enough for most intervals, and the few beyond end in an arrow.
 */
export function relativeReach(results: readonly Ranged[]): number {
  const halves = results
    .flatMap(({ value, lower95, upper95 }) =>
      value === null || value === 0 || lower95 === null || upper95 === null
        ? []
        : [Math.max(upper95 - value, value - lower95) / Math.abs(value)],
    )
    .sort((a, b) => a - b)
  const usual = halves[Math.floor(0.7 * (halves.length - 1))] ?? 0.1
  const steps = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1]
  return steps.find(step => step >= usual * 1.3) ?? 1
}

/** A 95 % interval about its value, with the answers of single tests as diamonds above it. */
export function IntervalPicture(props: {
  label: string
  result: Ranged
  other: Ranged | null
  own: readonly OwnAnswer[]
  reach: number
}) {
  const { label, result, other, own, reach } = props
  const { value, lower95, upper95 } = result
  if (value === null || value === 0) return null
  const x = (of: number) => {
    const share = (of - value) / Math.abs(value) / reach
    return WIDTH / 2 + HALF * Math.max(-1.04, Math.min(1.04, share))
  }
  const beyond = (of: number) => Math.abs((of - value) / value) > reach
  return (
    <svg viewBox={`0 0 ${WIDTH} 34`} role="img" aria-label={`95 % interval of ${label}`}>
      <path d={`M10 ${MIDDLE}H290`} stroke="var(--edge)" stroke-width="1.5" />
      <path d={`M150 4V30`} stroke="var(--edge-strong)" stroke-width="1" stroke-dasharray="3 3" />
      {other?.lower95 != null && other.upper95 != null && (
        <path
          d={`M${x(other.lower95)} 28H${x(other.upper95)}`}
          stroke="var(--current)"
          stroke-width="4"
        />
      )}
      {lower95 !== null && upper95 !== null && (
        <>
          <path d={`M${x(lower95)} ${MIDDLE}H${x(upper95)}`} stroke="var(--act)" stroke-width="9" />
          {beyond(lower95) && <path d="M10 10L2 17l8 7z" fill="var(--act)" />}
          {beyond(upper95) && <path d="M290 10l8 7-8 7z" fill="var(--act)" />}
        </>
      )}
      <path d={`M150 9V25`} stroke="var(--ink)" stroke-width="2.5" />
      {own.map(answer => (
        <path
          key={answer.from}
          d={`M${x(answer.value)} 1l5 5-5 5-5-5z`}
          fill={beyond(answer.value) ? 'none' : 'var(--current)'}
          stroke="var(--current)"
          stroke-width="1.5"
        >
          <title>{`${answer.from}: ${quantityText(answer.value, answer.unit, answer.standardUncertainty).text}`}</title>
        </path>
      ))}
    </svg>
  )
}
