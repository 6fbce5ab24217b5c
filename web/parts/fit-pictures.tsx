import { printedScale, quantityText, readingText, shareText } from '../../src/base/quantity-text.ts'
import type { BudgetLine, FitDocument } from '../../src/contract/fit-document.ts'
import { isParameterName, PARAMETER_FACTS, PARAMETERS } from '../../src/records/parameter.ts'
import { derivedLabel, derivedText } from '../../src/output/derived-text.ts'
import { KIND_WORDS } from '../display.ts'
import { ParameterSymbol } from './parameter-symbol.tsx'

const symbolOf = (name: string) => (isParameterName(name) ? PARAMETER_FACTS[name].symbol : name)
const labelOf = (name: string) => (isParameterName(name) ? PARAMETER_FACTS[name].label : name)

/** What each uncertainty is made of: shares of the variance, the largest first. */
export function Budget({ fit }: { fit: FitDocument }) {
  const names = PARAMETERS.filter(name => (fit.budget[name]?.length ?? 0) > 0)
  if (names.length === 0) return null
  return (
    <section class="plate stack" aria-label="What the uncertainties are made of">
      <h2>What the uncertainties are made of</h2>
      <div class="shares">
        {names.map(name => (
          <BudgetBar key={name} name={name} lines={fit.budget[name]!} />
        ))}
      </div>
      <p class="quiet small">
        Hatched: from calibration and data sheets (type B). Plain: from the scatter of the runs
        (type A).
      </p>
    </section>
  )
}

function BudgetBar({ name, lines }: { name: string; lines: readonly BudgetLine[] }) {
  const sorted = [...lines].sort((a, b) => b.share - a.share)
  const first = sorted[0]!
  const words = sorted.map(line => `${line.source} ${shareText(line.share)}`).join(', ')
  return (
    <>
      <ParameterSymbol text={symbolOf(name)} />
      <div>
        <div class="bar" role="img" aria-label={`${labelOf(name)}: ${words}`}>
          {sorted.map(line => (
            <i
              key={line.source}
              data-kind={line.kind}
              style={{ width: `${100 * line.share}%` }}
              title={`${line.source}: ${shareText(line.share)}`}
            />
          ))}
        </div>
        <p class="small quiet">
          {first.source} {shareText(first.share)}
          {sorted[1] &&
            sorted[1].share > 0.1 &&
            `, ${sorted[1].source} ${shareText(sorted[1].share)}`}
        </p>
      </div>
    </>
  )
}

const CELL = 46
const MARGIN = 54
/** The first row holds no disc. */
const TOP = MARGIN + CELL - 34

/** Correlations as discs: the larger, the stronger; filled where positive, a ring where negative. */
export function Correlation({ fit }: { fit: FitDocument }) {
  const { names, matrix } = fit.correlation
  if (names.length < 2) return null
  const size = MARGIN + names.length * CELL
  const strong = pairs(names, matrix).filter(pair => Math.abs(pair.r) > 0.9)
  return (
    <section class="plate stack" aria-label="Correlations">
      <h2>Which uncertainties hang together</h2>
      <svg
        class="correlation"
        viewBox={`0 ${TOP} ${size} ${size - TOP}`}
        role="img"
        aria-label={`Correlations of ${names.map(labelOf).join(', ')}`}
      >
        {names.map((name, row) => (
          <g key={name}>
            {row > 0 && (
              <text x={MARGIN - 10} y={MARGIN + row * CELL + CELL / 2 + 5} text-anchor="end">
                <SymbolSpans name={name} />
              </text>
            )}
            {row < names.length - 1 && (
              <text x={MARGIN + row * CELL + CELL / 2} y={MARGIN + CELL - 12} text-anchor="middle">
                <SymbolSpans name={name} />
              </text>
            )}
            {names.slice(0, row).map((across, column) => {
              const r = matrix[row]?.[column] ?? 0
              const cx = MARGIN + column * CELL + CELL / 2
              const cy = MARGIN + row * CELL + CELL / 2
              return (
                <g key={across}>
                  <rect
                    x={cx - CELL / 2}
                    y={cy - CELL / 2}
                    width={CELL}
                    height={CELL}
                    fill="none"
                    stroke="var(--edge)"
                  />
                  <circle
                    cx={cx}
                    cy={cy}
                    r={Math.max(1.5, Math.sqrt(Math.abs(r)) * (CELL / 2 - 4))}
                    fill={r > 0 ? 'var(--act)' : 'none'}
                    stroke={r > 0 ? 'var(--act)' : 'var(--current)'}
                    stroke-width="3"
                  >
                    <title>{`${labelOf(name)} and ${labelOf(across)}: ${readingText(r, '', 2).text}`}</title>
                  </circle>
                </g>
              )
            })}
          </g>
        ))}
      </svg>
      <p class="quiet small">
        Full disc: they rise together. Ring: one rises as the other falls. Area: how strongly.
        {strong.length > 0 &&
          ` Nearly inseparable here: ${strong.map(pair => `${labelOf(pair.a)} and ${labelOf(pair.b)} (${readingText(pair.r, '', 3).text})`).join('; ')}.`}
      </p>
    </section>
  )
}

function SymbolSpans({ name }: { name: string }) {
  const [letter, index] = symbolOf(name).split('_')
  return (
    <>
      <tspan font-style="italic">{letter}</tspan>
      {index && (
        <tspan dy="4" font-size="11">
          {index}
        </tspan>
      )}
    </>
  )
}

function pairs(names: readonly string[], matrix: readonly (readonly number[])[]) {
  return names.flatMap((a, i) =>
    names.slice(0, i).map((b, j) => ({ a, b, r: matrix[i]?.[j] ?? 0 })),
  )
}

/** Numbers that follow from the parameters. */
export function Derived({ fit }: { fit: FitDocument }) {
  const lines = Object.entries(fit.derived).filter(([, line]) => line.value !== null)
  if (lines.length === 0) return null
  return (
    <section class="plate stack" aria-label="What follows">
      <h2>What follows</h2>
      <table>
        <tbody>
          {lines.map(([key, line]) => {
            return (
              <tr key={key}>
                <th scope="row">{derivedLabel(line)}</th>
                <td class="number" style={{ textAlign: 'right' }}>
                  {derivedText(line)}
                </td>
              </tr>
            )
          })}
        </tbody>
      </table>
    </section>
  )
}

/** What each test says on its own, textbook fashion, with what all say together in the last row. */
export function OwnAnswers({ fit }: { fit: FitDocument }) {
  const tests = Object.entries(fit.separate).filter(([, test]) =>
    PARAMETERS.some(name => test.values[name]),
  )
  const names = PARAMETERS.filter(name => tests.some(([, test]) => test.values[name]))
  if (tests.length === 0 || names.length === 0) return null
  // One unit a column, from the largest value in it: rows are for comparing.
  const columns = names.map(name => {
    const all = [...tests.map(([, test]) => test.values[name]), fit.parameters[name]]
    const sizes = all.flatMap(one => (one?.value == null ? [] : [Math.abs(one.value)]))
    return { name, ...printedScale(Math.max(...sizes), PARAMETER_FACTS[name].unit) }
  })
  return (
    <section class="plate stack" aria-label="Each test on its own">
      <h2>Each test on its own</h2>
      <div class="scroll-x">
        <table class="own">
          <thead>
            <tr>
              <th scope="col">Test</th>
              {columns.map(({ name, unit }) => (
                <th scope="col" key={name}>
                  {labelOf(name)}, {unit}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {tests.map(([key, test]) => (
              <tr key={key}>
                <th scope="row">
                  <a href={`/runs/${test.run}`} title={test.method}>
                    {KIND_WORDS[test.kind as keyof typeof KIND_WORDS] ?? test.kind}, run {test.run}
                  </a>
                </th>
                {columns.map(({ name, factor }) => (
                  <td key={name} class="number">
                    <Cell value={test.values[name]} factor={factor} />
                  </td>
                ))}
              </tr>
            ))}
            <tr>
              <th scope="row">All together</th>
              {columns.map(({ name, factor }) => (
                <td key={name} class="number">
                  <Cell value={fit.parameters[name]} factor={factor} />
                </td>
              ))}
            </tr>
          </tbody>
        </table>
      </div>
    </section>
  )
}

function Cell(props: {
  value: { value: number | null; standardUncertainty: number | null } | undefined
  factor: number
}) {
  const { value, factor } = props
  if (value?.value == null) return null
  const uncertainty = value.standardUncertainty
  return <>{quantityText(value.value / factor, '', uncertainty && uncertainty / factor).text}</>
}
