import type { Verdict } from '../../src/quality/conformity.ts'

const WORDS: Readonly<Record<Verdict, string>> = {
  pass: 'Pass',
  fail: 'Fail',
  undecided: 'Undecided',
}

/** A disc with a tick, a square with a cross, a diamond with a question: told apart without colour. */
const SHAPES: Readonly<Record<Verdict, { outline: string; inner: string }>> = {
  pass: { outline: 'M12 2a10 10 0 1 1 0 20a10 10 0 1 1 0-20z', inner: 'M7 12.5l3.5 3.5 6.5-7.5' },
  fail: { outline: 'M3 3h18v18H3z', inner: 'M8 8l8 8M16 8l-8 8' },
  undecided: {
    outline: 'M12 1l11 11-11 11L1 12z',
    inner: 'M9.5 10a2.5 2.5 0 1 1 3.7 2.2c-.8.4-1.2.9-1.2 1.8M12 16.6v.3',
  },
}

/** A verdict by word, shape and colour. */
export function VerdictMark({
  verdict,
  text = WORDS[verdict],
  big = false,
}: {
  verdict: Verdict
  text?: string
  big?: boolean
}) {
  const { outline, inner } = SHAPES[verdict]
  return (
    <span class={big ? 'verdict verdict-big' : 'verdict'} data-verdict={verdict}>
      <svg viewBox="0 0 24 24" aria-hidden="true">
        <path d={outline} fill="currentColor" />
        <path
          d={inner}
          fill="none"
          stroke="var(--plate)"
          stroke-width="2.4"
          stroke-linecap="round"
          stroke-linejoin="round"
        />
      </svg>
      {text}
    </span>
  )
}
