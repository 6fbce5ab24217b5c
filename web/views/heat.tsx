import '../style/curves.css'
import '../style/drive.css'
import '../style/parameters.css'
import { shareText } from '../../src/base/quantity-text.ts'
import type { HeatDocument } from '../../src/contract/heat-document.ts'
import { INSULATION_NAMES, MAGNET_NAMES } from '../../src/contract/heat-names.ts'
import type { HeatPage, HeatQuery } from '../../src/contract/http-heat.ts'
import { magnetsText } from '../../src/output/heat-text.ts'
import type { ViewProps } from '../app.tsx'
import { celsius, moment, sentence, span } from '../display.ts'
import { AskedNumber } from '../parts/asked-number.tsx'
import { Blank, Caution, Trouble, Unloaded } from '../parts/basics.tsx'
import { HeatCourse } from '../parts/heat-course.tsx'
import { HeatTable } from '../parts/heat-table.tsx'
import { relativeReach } from '../parts/interval-picture.tsx'
import { MotorHead } from '../parts/motor-head.tsx'
import { go, withQuery } from '../router.ts'
import { useLoad } from '../state/load.ts'
import { usePageTitle } from '../state/title.ts'

/** How warm the motor gets: its heating run, the thermal model of it, and what follows for a use. */
export function Heat({ place, id }: ViewProps) {
  const asked = (name: string) => place.query.get(name) ?? undefined
  const { data, fault, loading, reload } = useLoad('heat', {
    params: { motor: id },
    query: {
      run: asked('run'),
      // The server refuses what is none of these, and says which there are.
      class: asked('class') as HeatQuery['class'] | undefined,
      ambient: asked('ambient'),
      stall: asked('stall'),
      magnets: asked('magnets') as HeatQuery['magnets'],
    },
  })
  usePageTitle(data ? `Heat of ${data.motor.name}` : 'Heat')
  if (!data) return <Unloaded fault={fault} reload={reload} />
  const { outcome } = data
  return (
    <>
      <MotorHead motor={data.motor} tab="Heat" />
      <div class="stack" aria-busy={loading}>
        {fault && <Trouble text={fault.message} />}
        {outcome.state === 'no-run' && <NoRun motorId={id} name={data.motor.name} />}
        {outcome.state === 'in-trouble' && (
          <>
            <Trouble text={`Run ${outcome.run}: ${outcome.text}.`}>
              <a class="button" href={`/runs/${outcome.run}`}>
                Look at the run
              </a>
            </Trouble>
            <RunChooser page={data} chosen={outcome.run} />
          </>
        )}
        {outcome.state === 'told' && <Told page={data} told={outcome} />}
      </div>
    </>
  )
}

function NoRun({ motorId, name }: { motorId: number; name: string }) {
  return (
    <Blank glyph="heating" title="No heating run yet">
      <p>
        A heating test warms the winding with the shaft locked, then reads its resistance while it
        cools: at the bench it is one test by your own numbers, of the kind Heating. A recording
        made elsewhere is imported as that kind.
      </p>
      <div class="row">
        <a class="button first" href={`/bench?motor=${motorId}`}>
          Log at the bench
        </a>
        <a class="button" href={`/import?motor=${encodeURIComponent(name)}`}>
          Import a heating run
        </a>
      </div>
    </Blank>
  )
}

type ToldHeat = Extract<HeatPage['outcome'], { state: 'told' }>

function Told({ page, told }: { page: HeatPage; told: ToldHeat }) {
  const { document, stallVolt, notes } = told
  const numbers = Object.values(document.numbers)
  const limits = Object.values(document.limits)
  const reach = relativeReach([...numbers, ...limits])
  const { limitsFor: use } = document
  return (
    <div class="curves-grid">
      <div class="stack">
        <Use page={page} document={document} stallVolt={stallVolt} />
        <Caution>
          <ul class="stack small" style={{ gap: '8px' }}>
            {document.cautions.map(text => (
              <li key={text}>{text}</li>
            ))}
          </ul>
        </Caution>
      </div>
      <div class="stack">
        {document.warnings.length > 0 && (
          <Caution>
            <ul>
              {document.warnings.map(({ code, text }) => (
                <li key={code}>{sentence(text)}.</li>
              ))}
            </ul>
          </Caution>
        )}
        <section class="plate stack" aria-label="Limits">
          <h2>
            Class {use.insulationClass}, air of {celsius(use.ambientCelsius)}
          </h2>
          <HeatTable title="What it may be loaded with" numbers={limits} reach={reach} />
          <p class="quiet small">
            Hottest place {celsius(use.hottestCelsius)}, mean by resistance{' '}
            {celsius(use.meanLimitCelsius)}
            {use.stall === null ? '' : `; a stall is ${use.stall}`}. Drawn intervals reach ±
            {shareText(reach)} of the value. Magnets: {magnetsText(document.magnets)}.
          </p>
        </section>
        <HeatCourse course={document.course} />
        <section class="plate stack" aria-label="Thermal model">
          <h2>Thermal model</h2>
          <HeatTable title="Winding, housing, air" numbers={numbers} reach={reach} />
          <p class="quiet small">
            {document.goodness.readings} readings of the resistance, the model within{' '}
            {document.goodness.largestResidualKelvin.toFixed(2)} K of each; reduced χ²{' '}
            {document.goodness.reducedChiSquare.toPrecision(2)}.
          </p>
        </section>
        <section class="plate stack" aria-label="Assumed">
          <h2>Assumed</h2>
          <ul class="untold small">
            {[...document.assumptions, ...notes].map(text => (
              <li key={text}>{sentence(text)}.</li>
            ))}
          </ul>
        </section>
      </div>
    </div>
  )
}

/** What the motor is used for: kept in the address. */
function Use(props: { page: HeatPage; document: HeatDocument; stallVolt: number | null }) {
  const { page, document, stallVolt } = props
  const { limitsFor: use, magnets } = document
  const change = (changes: Parameters<typeof withQuery>[0]) => go(withQuery(changes))
  return (
    <section class="plate stack" aria-label="In use">
      <h2>In use</h2>
      <RunChooser page={page} chosen={document.run} />
      <label class="stack" style={{ gap: '4px' }}>
        <span class="label">Insulation class, IEC 60085</span>
        <select
          value={use.insulationClass}
          onChange={event => change({ class: event.currentTarget.value })}
        >
          {INSULATION_NAMES.map(name => (
            <option key={name} value={name}>
              {name}
            </option>
          ))}
        </select>
      </label>
      <AskedNumber
        label="Air around the motor, °C"
        value={use.ambientCelsius}
        least={-60}
        most={150}
        onSettle={ambient => change({ ambient })}
      />
      <AskedNumber
        label="Voltage of a stall, V"
        value={stallVolt}
        least={0.001}
        most={1000}
        optional
        onSettle={stall => change({ stall })}
      />
      {magnets.basis !== 'measured' && (
        <label class="stack" style={{ gap: '4px' }}>
          <span class="label">Magnets</span>
          <select
            value={new URLSearchParams(location.search).get('magnets') ?? ''}
            onChange={event => change({ magnets: event.currentTarget.value })}
          >
            <option value="">not known</option>
            {MAGNET_NAMES.map(name => (
              <option key={name} value={name}>
                {name}
              </option>
            ))}
          </select>
        </label>
      )}
    </section>
  )
}

function RunChooser({ page, chosen }: { page: HeatPage; chosen: number }) {
  const [first] = page.runs
  if (page.runs.length < 2) {
    return (
      <p class="small">
        From <a href={`/runs/${chosen}`}>run {chosen}</a>
        {first?.durationSec == null ? '' : `, ${span(first.durationSec)}`}.
      </p>
    )
  }
  return (
    <label class="stack" style={{ gap: '4px' }}>
      <span class="label">Heating run</span>
      <select
        value={String(chosen)}
        onChange={event => go(withQuery({ run: event.currentTarget.value }))}
      >
        {page.runs.map(run => (
          <option key={run.id} value={String(run.id)}>
            run {run.id}, {moment(run.startedAt)}
          </option>
        ))}
      </select>
    </label>
  )
}
