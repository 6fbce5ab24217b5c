import '../style/curves.css'
import '../style/drive.css'
import '../style/recognise.css'
import type { MotorFinding, RecogniseDocument } from '../../src/contract/recognise-document.ts'
import { evidenceText, plateQuantity, VERDICTS } from '../../src/output/recognise-text.ts'
import type { ViewProps } from '../app.tsx'
import { sentence } from '../display.ts'
import { AskedNumber } from '../parts/asked-number.tsx'
import { Blank, Figure, Trouble, Unloaded } from '../parts/basics.tsx'
import { Glyph } from '../parts/glyph.tsx'
import { MotorHead } from '../parts/motor-head.tsx'
import { go, withQuery } from '../router.ts'
import { useLoad } from '../state/load.ts'
import { usePageTitle } from '../state/title.ts'

const USUAL_AIR = 40

/** What kind of motor the tests show: finding by finding with the evidence, and a proposed nameplate. */
export function Recognise({ place, id }: ViewProps) {
  const asked = (name: string) => place.query.get(name) ?? undefined
  const { data, fault, loading, reload } = useLoad('recognise', {
    params: { motor: id },
    query: { rated: asked('rated'), ambient: asked('ambient') },
  })
  usePageTitle(data ? `What ${data.motor.name} is` : 'What it is')
  if (!data) return <Unloaded fault={fault} reload={reload} />
  const { outcome } = data
  return (
    <>
      <MotorHead motor={data.motor} tab="What it is" />
      <div class="stack" aria-busy={loading}>
        {fault && <Trouble text={fault.message} />}
        {outcome.state === 'told' && (
          <>
            <Plate document={outcome.document} notes={outcome.notes} query={place.query} />
            <Findings findings={outcome.document.findings} />
          </>
        )}
        {outcome.state !== 'told' && (
          <Blank glyph="motors" title="Nothing to judge by yet">
            <p>
              {outcome.state === 'in-trouble'
                ? `${sentence(outcome.text)}.`
                : 'A locked-rotor test and a free run, both gentle, tell resistance, brushes, k and friction; further tests tell more.'}
            </p>
            <a class="button first" href={`/bench?motor=${id}`}>
              Log at the bench
            </a>
          </Blank>
        )}
      </div>
    </>
  )
}

function Plate(props: {
  document: RecogniseDocument
  notes: readonly string[]
  query: URLSearchParams
}) {
  const { document, notes, query } = props
  const { lines, assumptions } = document.nameplate
  const number = (name: string) => {
    const text = query.get(name)
    return text === null ? null : Number(text)
  }
  return (
    <section class="plate stack" aria-label="Proposed nameplate">
      <h2>Proposed nameplate</h2>
      <div class="drive-fields">
        <AskedNumber
          label="Rated voltage, V, where known"
          value={number('rated')}
          least={0.1}
          most={1000}
          optional
          onSettle={rated => go(withQuery({ rated }))}
        />
        <AskedNumber
          label="Air around it in use, °C"
          value={number('ambient') ?? USUAL_AIR}
          least={-60}
          most={150}
          onSettle={ambient => go(withQuery({ ambient }))}
        />
      </div>
      <table class="plate-lines">
        <thead>
          <tr>
            <th scope="col">Line</th>
            <th scope="col">Value (standard uncertainty)</th>
            <th scope="col">How it follows</th>
          </tr>
        </thead>
        <tbody>
          {lines.map(line => {
            const shown = plateQuantity(line)
            return (
              <tr key={line.label}>
                <th scope="row">{line.label}</th>
                <td>
                  {line.value === null ? (
                    <span class="quiet">not told</span>
                  ) : (
                    <Figure number={shown.number} unit={shown.unit} />
                  )}
                </td>
                <td class="small">{sentence(line.basis)}</td>
              </tr>
            )
          })}
        </tbody>
      </table>
      <div class="stack" style={{ gap: '6px' }}>
        <h3>Assumed</h3>
        <ul class="untold small">
          {[...assumptions, ...notes].map(text => (
            <li key={text}>{sentence(text)}.</li>
          ))}
        </ul>
      </div>
    </section>
  )
}

const MARKS: Readonly<Record<MotorFinding['verdict'], { glyph: string; tone: string }>> = {
  seen: { glyph: 'check', tone: 'good' },
  'not-seen': { glyph: 'minus', tone: 'quiet' },
  'cannot-say': { glyph: 'warn', tone: 'warn' },
}

function Findings({ findings }: { findings: readonly MotorFinding[] }) {
  return (
    <section class="plate stack" aria-label="What the tests show">
      <h2>What the tests show</h2>
      <ul class="motor-findings">
        {findings.map(finding => (
          <Finding key={finding.id} finding={finding} />
        ))}
      </ul>
    </section>
  )
}

function Finding({ finding }: { finding: MotorFinding }) {
  const { label, verdict, confidence, text, evidence, runs, test } = finding
  const { glyph, tone } = MARKS[verdict]
  return (
    <li>
      <div class="row apart">
        <h3>{label}</h3>
        <span class="stamp" data-tone={tone}>
          <Glyph name={glyph} />
          {VERDICTS[verdict]}
          {confidence !== null && `, ${confidence}`}
        </span>
      </div>
      <p>{sentence(text)}.</p>
      {evidence.length > 0 && (
        <ul class="evidence small" aria-label={`Evidence: ${label}`}>
          {evidence.map(one => (
            <li key={one.name}>{evidenceText(one)}</li>
          ))}
        </ul>
      )}
      {runs.length > 0 && (
        <p class="small">
          From{' '}
          {runs.map((run, n) => (
            <span key={run}>
              {n > 0 && ', '}
              <a href={`/runs/${run}`}>run {run}</a>
            </span>
          ))}
        </p>
      )}
      {test !== null && (
        <p class="small quiet">
          {verdict === 'cannot-say' ? 'What would tell: ' : 'What would tell more: '}
          {test}.
        </p>
      )}
    </li>
  )
}
