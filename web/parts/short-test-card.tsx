import { useEffect, useRef, useState } from 'preact/hooks'
import { quantityText } from '../../src/base/quantity-text.ts'
import type { BenchView } from '../../src/contract/http-bench.ts'
import type { ShortTestBody, ShortTestView } from '../../src/contract/http-samples.ts'
import { call } from '../api.ts'
import { sentence } from '../display.ts'
import { rememberedCell, useCell } from '../state/cell.ts'
import { bench, drives, linked } from '../state/live.ts'
import { useLoad } from '../state/load.ts'
import { Caution, Trouble } from './basics.tsx'
import { VerdictMark } from './verdict.tsx'

/** Who tests on this page, and the least mass of a sample: asked once. */
const operator = rememberedCell('operator')
const mass = rememberedCell('mass-gram')

export type RuleChoice = Pick<ShortTestBody, 'rule' | 'level'>

interface CardProps {
  readonly typeId: number
  readonly rule: RuleChoice
  readonly what: ShortTestBody['what']
  /** The motor that it is about, by name. */
  readonly motor: string
  /** What the button says. */
  readonly title: string
  /** Given where the study says who measures. */
  readonly operator?: string
  readonly onDone: () => void
}

/** Runs the short test of one motor: what is known beforehand, then the test, then the verdict. */
export function ShortTestCard(props: CardProps) {
  const view = useCell(bench)
  const stream = useCell(linked)
  const test = view?.shortTest ?? null
  const busy = test !== null && !['done', 'ended'].includes(test.phase)
  const { onDone } = props
  // Told at the moment of its end only, not of one that ended before this was on screen.
  const before = useRef(test?.phase)
  useEffect(() => {
    if (test?.phase === 'done' && before.current !== 'done') onDone()
    before.current = test?.phase
  }, [test?.phase])
  if (!view?.rig) {
    return (
      <p>
        To test here, <a href="/bench">connect a rig at the bench</a> first.
      </p>
    )
  }
  const mayDrive = stream === 'open' && (view.driver === null || drives(view))
  if (busy) return <ShortTestNow test={test} mayDrive={mayDrive} />
  return (
    <div class="stack">
      {test?.motor === props.motor && <ShortTestNow test={test} mayDrive={mayDrive} />}
      {!view.rig.simulated && !view.cautionsAcknowledged ? (
        <p>
          Before a real motor turns, <a href="/bench">read the cautions at the bench</a> and
          acknowledge them there.
        </p>
      ) : (
        <Begin {...props} view={view} mayDrive={mayDrive} />
      )}
    </div>
  )
}

function Begin(props: CardProps & { view: BenchView; mayDrive: boolean }) {
  const { typeId, rule, what, title, view, mayDrive } = props
  const [fault, setFault] = useState<string | null>(null)
  const name = useCell(operator)
  const massText = useCell(mass)
  const gram = Number(massText.replace(',', '.'))
  const motorMassKg = massText.trim() !== '' && gram > 0 ? gram / 1000 : undefined
  const choices = { type: typeId, ...rule, motorMassKg }
  const { data } = useLoad('shortTestPlan', { query: choices })
  const who = props.operator ?? name.trim()
  const start = (event: Event) => {
    event.preventDefault()
    setFault(null)
    call('startShortTest', { body: { ...choices, what, operator: who } }).catch(error =>
      setFault(error.message),
    )
  }
  const ready = mayDrive && view.state === 'ready' && who !== '' && data?.refused === null
  return (
    <form class="stack" onSubmit={start}>
      {data?.warnings.map(text => (
        <Caution key={text}>
          <p>{sentence(text)}</p>
        </Caution>
      ))}
      {data?.refused && <Trouble text={`${sentence(data.refused)}.`} />}
      {data?.refused === null && (
        <details>
          <summary>
            {data.drivenSec?.toFixed(1)} s of driving, locked at {data.positions}{' '}
            {data.positions === 1 ? 'shaft position' : 'shaft positions'}: how well it will know
          </summary>
          <Prediction rows={data.prediction} />
        </details>
      )}
      {data?.prediction
        .filter(each => each.warning !== '')
        .map(each => (
          <Caution key={each.quantity}>
            <p>
              {each.label}: {each.warning}
            </p>
          </Caution>
        ))}
      <div class="row">
        {props.operator === undefined && (
          <label style={{ flex: '1 1 160px' }}>
            <span class="label">Who tests</span>
            <input
              value={name}
              autocomplete="off"
              onInput={event => operator.set(event.currentTarget.value)}
            />
          </label>
        )}
        <label style={{ flex: '1 1 160px' }}>
          <span class="label">Mass of one motor, g (bounds its heating)</span>
          <input
            inputMode="decimal"
            autocomplete="off"
            value={massText}
            onInput={event => mass.set(event.currentTarget.value)}
          />
        </label>
      </div>
      {fault && <Trouble text={fault} />}
      <div class="row">
        <button type="submit" class="first next" disabled={!ready}>
          {title}
        </button>
        <span class="quiet small">The motor turns: keep clear of the shaft.</span>
      </div>
    </form>
  )
}

function Prediction(props: {
  rows: readonly {
    quantity: string
    label: string
    unit: string
    standardUncertainty: number | null
    uncertaintyRatio: number | null
    basis: string
  }[]
}) {
  return (
    <div class="samples-scroll">
      <table class="samples-table">
        <thead>
          <tr>
            <th scope="col">Quantity</th>
            <th scope="col" class="number">
              Standard uncertainty expected
            </th>
            <th scope="col" class="number">
              Test uncertainty ratio
            </th>
            <th scope="col">By</th>
          </tr>
        </thead>
        <tbody>
          {props.rows.map(row => (
            <tr key={row.quantity}>
              <th scope="row">{row.label}</th>
              <td class="number">
                {row.standardUncertainty === null
                  ? 'not known'
                  : quantityText(row.standardUncertainty, row.unit).text}
              </td>
              <td class="number">{row.uncertaintyRatio?.toPrecision(2) ?? ''}</td>
              <td>{row.basis}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}

const WORDS: Readonly<Record<ShortTestView['phase'], string>> = {
  'making-safe': 'Making safe',
  shaft: 'The shaft',
  testing: 'Testing',
  identifying: 'Identifying',
  done: 'Done',
  ended: 'Ended early',
}

/** Where a short test stands, with what the operator is to do; shown at the bench too. */
export function ShortTestNow({ test, mayDrive }: { test: ShortTestView; mayDrive: boolean }) {
  const [fault, setFault] = useState<string | null>(null)
  const act = (name: 'shaft-ready' | 'leave') => {
    setFault(null)
    call('actOnShortTest', { body: { act: name } }).catch(error => setFault(error.message))
  }
  const over = test.phase === 'done' || test.phase === 'ended'
  return (
    <section class="stack short-test" aria-label={`Short test of ${test.motor}`}>
      <div class="row apart">
        <h3>
          {WORDS[test.phase]}: {test.motor}
        </h3>
        {over && (
          <button type="button" class="bare" onClick={() => act('leave')}>
            Put away
          </button>
        )}
      </div>
      {test.verdict ? (
        <p role="status">
          <VerdictMark verdict={test.verdict.verdict} big />
        </p>
      ) : (
        <p class="do" role={test.phase === 'ended' ? 'alert' : 'status'}>
          {sentence(test.text)}
        </p>
      )}
      {!over && (
        <div
          class="gauge"
          role="progressbar"
          aria-label="Short test"
          aria-valuemin={0}
          aria-valuemax={100}
          aria-valuenow={Math.round(100 * test.progress)}
        >
          <i style={{ transform: `scaleX(${test.progress})` }} />
        </div>
      )}
      {fault && <Trouble text={fault} />}
      {test.phase === 'shaft' && (
        <button
          type="button"
          class="first next"
          disabled={!mayDrive}
          onClick={() => act('shaft-ready')}
        >
          Shaft is ready, hands are off
        </button>
      )}
    </section>
  )
}
