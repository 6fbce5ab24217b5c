import { useState } from 'preact/hooks'
import type { BenchPage } from '../../src/contract/http-bench.ts'
import { SAFE_HOTTEST_CELSIUS } from '../../src/procedure/plan-heating.ts'
import { TEST_KINDS, type TestKind } from '../../src/records/test-kind.ts'
import { call } from '../api.ts'
import { KIND_WORDS, moment } from '../display.ts'
import { motorOnBench, tell } from '../state/live.ts'
import { useLoad } from '../state/load.ts'
import { NUMBER_PATTERN, typedNumber } from '../typed-number.ts'
import { Trouble } from './basics.tsx'
import { CautionList } from './caution-list.tsx'

/** A rig is ready: which motor, and whether the whole sequence or one test. */
export function BeginCard(props: { page: BenchPage; motorId: number | null; mayDrive: boolean }) {
  const { page, mayDrive } = props
  const { data } = useLoad('motors', {})
  const [chosen, setChosen] = useState(() => {
    const motor = props.motorId ?? motorOnBench.get()
    return motor === null ? '' : String(motor)
  })
  const [name, setName] = useState('')
  const [fault, setFault] = useState<string | null>(null)
  const isNew = chosen === '' || data?.motors.length === 0

  /** The chosen motor, added first where it is new. */
  const motor = async (): Promise<number> =>
    isNew ? (await call('addMotor', { body: { name: name.trim() } })).id : Number(chosen)
  const begin = async (work: (motor: number) => Promise<unknown>) => {
    setFault(null)
    try {
      const id = await motor()
      motorOnBench.set(id)
      setChosen(String(id))
      await work(id)
    } catch (error) {
      setFault((error as Error).message)
    }
  }
  const ready = mayDrive && (isNew ? name.trim() !== '' : true)
  return (
    <div class="stack">
      <form
        class="plate now"
        aria-label="What to do now"
        onSubmit={event => {
          event.preventDefault()
          if (ready) begin(id => call('startSequence', { body: { motor: id } }))
        }}
      >
        <h2>Which motor is on the bench?</h2>
        {data && data.motors.length > 0 && (
          <label>
            <span class="label">Motor</span>
            <select value={chosen} onChange={event => setChosen(event.currentTarget.value)}>
              <option value="">a new one</option>
              {data.motors.map(one => (
                <option key={one.id} value={String(one.id)}>
                  {one.name}
                </option>
              ))}
            </select>
          </label>
        )}
        {isNew && (
          <label>
            <span class="label">Name of the new motor</span>
            <input
              value={name}
              placeholder="as it is marked, e.g. sample 3"
              onInput={event => setName(event.currentTarget.value)}
            />
          </label>
        )}
        {fault && <Trouble text={fault} />}
        <button type="submit" class="first next" disabled={!ready}>
          Start the guided sequence
        </button>
        {!isNew && <Unfinished motorId={Number(chosen)} mayDrive={mayDrive} onFault={setFault} />}
        <p class="quiet small">
          It asks and tells for every step, measures gently first, and plans each test from what it
          has seen.
        </p>
      </form>
      <SingleTest page={page} ready={ready} begin={begin} />
    </div>
  )
}

function Unfinished(props: {
  motorId: number
  mayDrive: boolean
  onFault: (text: string) => void
}) {
  const { data } = useLoad('motor', { params: { motor: props.motorId } })
  if (!data?.unfinishedSequence) return null
  const resume = () =>
    call('startSequence', { body: { motor: props.motorId, resume: true } }).catch(error =>
      props.onFault(error.message),
    )
  return (
    <button type="button" class="next" disabled={!props.mayDrive} onClick={resume}>
      Go on where it was left, {moment(data.unfinishedSequence.savedAt)}
    </button>
  )
}

type Begin = (work: (motor: number) => Promise<unknown>) => Promise<void>

const NUMBERS = [
  { key: 'voltageVolt', label: 'Voltage, V' },
  { key: 'currentLimitAmp', label: 'Current limit, A' },
  { key: 'durationSec', label: 'Duration, s' },
  { key: 'ambientCelsius', label: 'Air, °C' },
  { key: 'hottestCelsius', label: 'Hottest coil, °C' },
] as const

function SingleTest({ page, ready, begin }: { page: BenchPage; ready: boolean; begin: Begin }) {
  const [kind, setKind] = useState<TestKind>('zero')
  const [numbers, setNumbers] = useState<Record<string, string>>({})
  const acknowledged = page.bench.cautionsAcknowledged
  const fields = NUMBERS.filter(({ key }) => key !== 'hottestCelsius' || kind === 'heating')
  const submit = (event: Event) => {
    event.preventDefault()
    const given = Object.fromEntries(
      fields.flatMap(({ key }) => {
        const text = numbers[key] ?? ''
        return text.trim() === '' ? [] : [[key, typedNumber(text)]]
      }),
    )
    begin(motor => call('startTest', { body: { motor, kind, ...given } }))
  }
  return (
    <details class="plate">
      <summary style={{ cursor: 'pointer', minHeight: '32px', fontWeight: 650 }}>
        One test by your own numbers
      </summary>
      {acknowledged ? (
        <form class="stack" style={{ marginTop: '14px' }} onSubmit={submit}>
          <label>
            <span class="label">Test</span>
            <select value={kind} onChange={event => setKind(event.currentTarget.value as TestKind)}>
              {TEST_KINDS.map(one => (
                <option key={one} value={one}>
                  {KIND_WORDS[one]}
                </option>
              ))}
            </select>
          </label>
          <div class="row">
            {fields.map(({ key, label }) => (
              <label key={key} style={{ flex: '1 1 130px' }}>
                <span class="label">{label}</span>
                <input
                  inputMode="decimal"
                  pattern={NUMBER_PATTERN}
                  title="A number, or nothing for the usual one"
                  value={numbers[key] ?? ''}
                  onInput={event => setNumbers({ ...numbers, [key]: event.currentTarget.value })}
                />
              </label>
            ))}
          </div>
          {kind === 'heating' && (
            <p class="small">
              Clamp the shaft, and begin with a motor as warm as the air: its winding is the
              thermometer. It is warmed by pulses up to the hottest coil that you allow (
              {SAFE_HOTTEST_CELSIUS}&nbsp;°C where you say nothing), then read while it cools.
              Somebody stays beside it; it is hot long afterwards.
            </p>
          )}
          <button type="submit" class="first" disabled={!ready}>
            Log this test
          </button>
        </form>
      ) : (
        <div class="stack" style={{ marginTop: '14px' }}>
          <CautionList cautions={page.cautions} />
          <button
            type="button"
            class="first"
            onClick={() => call('acknowledge').catch(fault => tell(fault.message, 'bad'))}
          >
            I have read and understood
          </button>
        </div>
      )}
    </details>
  )
}
