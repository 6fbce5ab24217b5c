import { useMemo, useState } from 'preact/hooks'
import { controlChartPicture } from '../../src/output/batch/control-chart-picture.ts'
import type { BenchCheck } from '../../src/quality/batch-comparison.ts'
import type { CheckChart } from '../../src/quality/check-motor.ts'
import { moment } from '../display.ts'
import { useLoad } from '../state/load.ts'
import { Picture } from './picture.tsx'
import { type RuleChoice, ShortTestCard } from './short-test-card.tsx'

const WIDTH = 360
const HEIGHT = 118

/** The bench against itself: check motors measured at the start of each shift, on their own charts. */
export function CheckMotor(props: {
  typeId: number
  rule: RuleChoice
  checks: readonly BenchCheck[]
  onMeasured: () => void
}) {
  const { typeId, rule, checks, onMeasured } = props
  const [isOpen, setOpen] = useState(false)
  return (
    <>
      {checks.map(check => (
        <section key={`${check.motor} ${check.rig}`} class="plate stack">
          <h3>Check motor {check.motor}</h3>
          <p class="quiet">
            Last measured {moment(check.measuredAt)} by {check.operator}
            {check.rig === null ? '' : ` on rig ${check.rig}`}.
          </p>
          <div class="charts">
            {check.charts.map(chart => (
              <CheckPicture key={chart.quantity} check={chart} />
            ))}
          </div>
        </section>
      ))}
      <details class="plate" onToggle={event => setOpen(event.currentTarget.open)}>
        <summary>Measure a check motor, as at the start of a shift</summary>
        {isOpen && <Measure typeId={typeId} rule={rule} onMeasured={onMeasured} />}
      </details>
    </>
  )
}

function Measure(props: { typeId: number; rule: RuleChoice; onMeasured: () => void }) {
  const { typeId, rule, onMeasured } = props
  const { data } = useLoad('study', { params: { type: typeId }, query: {} })
  const [chosen, setChosen] = useState(0)
  const motor = data?.motors.find(each => each.id === chosen) ?? data?.motors[0]
  if (!data || !motor) return null
  return (
    <div class="stack">
      <label class="pick">
        <span class="label">Check motor: always the same, kept for this</span>
        <select value={motor.id} onChange={event => setChosen(Number(event.currentTarget.value))}>
          {data.motors.map(each => (
            <option key={each.id} value={each.id}>
              {each.name}
            </option>
          ))}
        </select>
      </label>
      <ShortTestCard
        typeId={typeId}
        rule={rule}
        what={{ kind: 'check', motor: motor.id }}
        motor={motor.name}
        title={`Measure ${motor.name}`}
        onDone={onMeasured}
      />
    </div>
  )
}

/** The control chart of a check motor. */
function CheckPicture({ check }: { check: CheckChart }) {
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
