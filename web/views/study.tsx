import '../style/samples.css'
import type { StudyPage } from '../../src/contract/http-samples.ts'
import { type GaugeCell, type GaugePlan, gaugeOrder } from '../../src/quality/gauge-plan.ts'
import { call } from '../api.ts'
import type { ViewProps } from '../app.tsx'
import { Unloaded } from '../parts/basics.tsx'
import { ShortTestCard } from '../parts/short-test-card.tsx'
import { StudyPlanForm } from '../parts/study-plan-form.tsx'
import { StudyResult } from '../parts/study-result.tsx'
import { go, withQuery } from '../router.ts'
import { tell } from '../state/live.ts'
import { useLoad } from '../state/load.ts'
import { usePageTitle } from '../state/title.ts'

/** Is it the motors or the bench? Operators measure the same motors over and over, led step by step. */
export function Study({ place }: ViewProps) {
  usePageTitle('Gauge study')
  const { query } = place
  const typeId = Number(query.get('type') ?? 0)
  const study = query.get('study') ?? ''
  const { data, fault, reload } = useLoad('study', { params: { type: typeId }, query: { study } })
  if (!data) return <Unloaded fault={fault} reload={reload} />
  const plan = planFrom(query, data)
  return (
    <>
      <header class="head">
        <div>
          <p class="crumb">
            <a href={`/samples?type=${typeId}`}>Samples</a> · {data.type.name}
          </p>
          <h1>{plan ? `Gauge study ${plan.study}` : 'Gauge study'}</h1>
        </div>
        {data.studies.length > 0 && (
          <label class="row" style={{ gap: '8px' }}>
            Study
            <select
              value={study}
              onChange={event =>
                go(
                  withQuery({
                    study: event.currentTarget.value,
                    operators: null,
                    motors: null,
                    trials: null,
                  }),
                )
              }
            >
              <option value="">a new one</option>
              {[...new Set([...data.studies, ...(study === '' ? [] : [study])])].map(name => (
                <option key={name} value={name}>
                  {name}
                </option>
              ))}
            </select>
          </label>
        )}
      </header>
      <div class="stack sample-grid">
        {plan ? (
          <Led page={data} plan={plan} typeId={typeId} onCounted={reload} />
        ) : (
          <StudyPlanForm page={data} />
        )}
        {study !== '' && data.trials.length > 0 && (
          <StudyResult page={data} chosen={query.get('quantity')} />
        )}
      </div>
    </>
  )
}

/** As the address says it; else as the trials so far tell. */
function planFrom(query: URLSearchParams, page: StudyPage): GaugePlan | null {
  const study = query.get('study') ?? ''
  if (study === '') return null
  const listed = (name: string) => (query.get(name) ?? '').split(';').filter(text => text !== '')
  const unique = (names: string[]) => [...new Set(names)]
  const named = new Map(page.motors.map(motor => [String(motor.id), motor.name]))
  const asked = listed('motors').flatMap(id => named.get(id) ?? [])
  const operators = unique([...listed('operators'), ...page.trials.map(trial => trial.operator)])
  const parts = unique([...asked, ...page.trials.map(trial => trial.motor)])
  if (operators.length === 0 || parts.length === 0) return null
  const counts = parts.flatMap(part =>
    operators.map(
      operator => page.trials.filter(t => t.motor === part && t.operator === operator).length,
    ),
  )
  const trials = Math.max(2, Number(query.get('trials') ?? 0) || 0, ...counts)
  return { study, operators, parts, trials: Math.min(20, trials) }
}

/** The next measurement, and what has been done. */
function Led(props: { page: StudyPage; plan: GaugePlan; typeId: number; onCounted: () => void }) {
  const { page, plan, typeId, onCounted } = props
  const order = gaugeOrder(
    plan,
    page.trials.map(({ motor, operator }) => ({ part: motor, operator })),
  )
  const next = order.find(cell => !cell.isDone) ?? null
  const done = order.filter(cell => cell.isDone).length
  return (
    <section class="plate stack" aria-label="What to do now">
      <div class="row apart">
        <h2>{next ? 'Next measurement' : 'All measurements are made'}</h2>
        <p class="quiet" role="status">
          {done} of {order.length} done
        </p>
      </div>
      {next && (
        <Next
          key={`${next.part} ${next.operator} ${next.trial}`}
          page={page}
          study={plan.study}
          cell={next}
          typeId={typeId}
          onCounted={onCounted}
        />
      )}
      <Grid plan={plan} order={order} next={next} />
    </section>
  )
}

function Next(props: {
  page: StudyPage
  study: string
  cell: GaugeCell
  typeId: number
  onCounted: () => void
}) {
  const { page, study, cell, typeId, onCounted } = props
  const motor = page.motors.find(each => each.name === cell.part)
  if (!motor) return <p>{cell.part} is no longer among the motors of this type.</p>
  const count = () =>
    call('addTrial', {
      params: { type: typeId },
      body: { study, motor: motor.id, operator: cell.operator },
    }).then(onCounted, fault => tell(fault.message, 'bad'))
  const mayCount = motor.fit !== null && !motor.fit.isCounted
  return (
    <div class="stack">
      <p class="study-next">
        {cell.operator} measures {cell.part}, trial {cell.trial}
      </p>
      <p class="quiet">
        Take the motor off the bench and clamp it anew for every trial: that is part of what is
        studied.
      </p>
      <ShortTestCard
        typeId={typeId}
        rule={{ rule: 'conformity', level: undefined }}
        what={{ kind: 'trial', motor: motor.id, study }}
        motor={motor.name}
        title={`Measure ${cell.part}`}
        operator={cell.operator}
        onDone={onCounted}
      />
      <div class="row">
        <button type="button" disabled={!mayCount} onClick={count}>
          Count its newest identification
        </button>
        <span class="quiet small">
          {motor.fit === null
            ? 'It has not been identified yet.'
            : motor.fit.isCounted
              ? `Identification ${motor.fit.id} is counted already: measure it once more.`
              : `Identification ${motor.fit.id}, made elsewhere by ${cell.operator}.`}
        </span>
      </div>
    </div>
  )
}

function Grid(props: { plan: GaugePlan; order: readonly GaugeCell[]; next: GaugeCell | null }) {
  const { plan, order, next } = props
  return (
    <div class="samples-scroll">
      <table class="samples-table study-grid">
        <thead>
          <tr>
            <th scope="col">Motor</th>
            {plan.operators.map(operator => (
              <th key={operator} scope="col">
                {operator}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {plan.parts.map(part => (
            <tr key={part}>
              <th scope="row">{part}</th>
              {plan.operators.map(operator => {
                const own = order.filter(c => c.part === part && c.operator === operator)
                const isNext = next?.part === part && next.operator === operator
                return (
                  <td key={operator} data-next={isNext}>
                    {own.filter(cell => cell.isDone).length} of {own.length}
                    {isNext ? ', next' : ''}
                  </td>
                )
              })}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}
