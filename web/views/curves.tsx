import '../style/curves.css'
import { useId, useMemo, useState } from 'preact/hooks'
import { quantityText, readingText } from '../../src/base/quantity-text.ts'
import { RPM_PER_RAD_PER_SEC } from '../../src/base/units.ts'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { curvePicture } from '../../src/output/curve-picture.ts'
import {
  type CurvePoint,
  curvePoint,
  curveVoltage,
  type FittedMotor,
  fittedMotorOf,
  motorCurves,
  stallTorqueNm,
  type Uncertain,
} from '../../src/output/motor-curves.ts'
import { quadrantPicture } from '../../src/output/quadrant-picture.ts'
import type { ViewProps } from '../app.tsx'
import { celsius } from '../display.ts'
import { Blank, Caution, Unloaded } from '../parts/basics.tsx'
import { MotorHead } from '../parts/motor-head.tsx'
import { Picture } from '../parts/picture.tsx'
import { go, withQuery } from '../router.ts'
import { useLoad } from '../state/load.ts'
import { usePageTitle } from '../state/title.ts'

/** What the motor does at a voltage and a temperature that the hand drags; computed here, at once. */
export function Curves({ place, id }: ViewProps) {
  const fit = place.query.get('fit')
  const { data, fault, reload } = useLoad('identification', {
    params: { motor: id },
    query: { fit: fit ?? undefined },
  })
  usePageTitle(data ? `Curves of ${data.motor.name}` : 'Curves')
  if (!data) return <Unloaded fault={fault} reload={reload} />
  const document = data.fit?.document
  return (
    <>
      <MotorHead motor={data.motor} tab="Curves" />
      {document ? (
        <Dragged fit={document} query={place.query} key={data.fit?.id} />
      ) : (
        <Blank glyph="curves" title="No curves yet">
          <p>Curves follow from the parameters of this motor.</p>
          <a class="button first" href={`/motors/${id}/parameters`}>
            Identify
          </a>
        </Blank>
      )}
    </>
  )
}

/** Volts at the terminals, the winding's temperature, and the load in per cent of the stall torque. */
interface Chosen {
  readonly volt: number
  readonly celsius: number
  readonly load: number
}

const HIGHEST_CELSIUS = 155
const LOWEST_CELSIUS = -20

function Dragged({ fit, query }: { fit: FitDocument; query: URLSearchParams }) {
  const motor = useMemo(() => fittedMotorOf(fit), [fit])
  const usual = curveVoltage(fit) ?? 12
  const range = { least: niceStep(usual) * 2, most: 1.5 * usual }
  const asked = (key: string, otherwise: number, least: number, most: number) => {
    const text = query.get(key)
    const value = text === null || text === '' ? Number.NaN : Number(text)
    return Number.isFinite(value) ? Math.min(most, Math.max(least, value)) : otherwise
  }
  /** What the hand has dragged and not let go of; else the address counts. */
  const [held, setHeld] = useState<Chosen | null>(null)
  const {
    volt,
    celsius: warm,
    load: share,
  } = held ?? {
    volt: asked('volt', usual, range.least, range.most),
    celsius: asked('celsius', fit.referenceTemperatureCelsius, LOWEST_CELSIUS, HIGHEST_CELSIUS),
    load: asked('load', 20, 0, 100),
  }
  if (typeof motor === 'string') {
    return <Caution>{motor}</Caution>
  }
  const drag = (changes: Partial<Chosen>) =>
    setHeld({ volt, celsius: warm, load: share, ...changes })
  /** The address follows when the hand lets go. */
  const settle = (changes: Partial<Chosen>) => {
    go(withQuery({ volt, celsius: warm, load: share, ...changes }), { replace: true })
    setHeld(null)
  }
  return (
    <div class="curves-grid">
      <div class="stack">
        <section class="plate stack" aria-label="At">
          <Slider
            label="Voltage"
            value={volt}
            text={readingText(volt, 'V', 3).text}
            min={range.least}
            max={range.most}
            step={niceStep(usual)}
            onDrag={value => drag({ volt: value })}
            onSettle={value => settle({ volt: value })}
          />
          <Slider
            label="Winding"
            value={warm}
            text={celsius(warm)}
            min={LOWEST_CELSIUS}
            max={HIGHEST_CELSIUS}
            step={1}
            onDrag={value => drag({ celsius: value })}
            onSettle={value => settle({ celsius: value })}
          />
          <Slider
            label="Load, of the stall torque"
            value={share}
            text={`${share}\u00a0%`}
            min={0}
            max={100}
            step={1}
            onDrag={value => drag({ load: value })}
            onSettle={value => settle({ load: value })}
          />
        </section>
        <Operating motor={motor} volt={volt} warm={warm} share={share} />
      </div>
      <Drawn motor={motor} volt={volt} warm={warm} share={share} />
    </div>
  )
}

/** About a hundred steps over the range, each a round number of volts. */
function niceStep(usual: number): number {
  const raw = usual / 100
  const power = 10 ** Math.floor(Math.log10(raw))
  return [1, 2, 5, 10].map(step => step * power).find(step => step >= raw) ?? power
}

function Slider(props: {
  label: string
  value: number
  text: string
  min: number
  max: number
  step: number
  onDrag: (value: number) => void
  onSettle: (value: number) => void
}) {
  const id = useId()
  return (
    <div class="slider">
      <label class="label" for={id}>
        {props.label}
      </label>
      <span class="value">{props.text}</span>
      <input
        id={id}
        type="range"
        min={props.min}
        max={props.max}
        step={props.step}
        value={props.value}
        aria-valuetext={props.text}
        onInput={event => props.onDrag(Number(event.currentTarget.value))}
        onChange={event => props.onSettle(Number(event.currentTarget.value))}
      />
    </div>
  )
}

interface At {
  readonly motor: FittedMotor
  readonly volt: number
  readonly warm: number
  /** Of the stall torque, in per cent. */
  readonly share: number
}

function operatingPoint({ motor, volt, warm, share }: At): CurvePoint | null {
  const stall = stallTorqueNm(motor, volt, warm)
  return stall > 0 ? curvePoint(motor, volt, warm, (stall * Math.min(share, 99.99)) / 100) : null
}

function Operating(at: At) {
  const point = operatingPoint(at)
  if (!point) {
    return (
      <Caution>At this voltage the motor does not overcome its own friction and brushes.</Caution>
    )
  }
  const rows: readonly (readonly [string, Uncertain | null, string, number])[] = [
    ['Speed', point.speed, 'rpm', RPM_PER_RAD_PER_SEC],
    ['Current', point.current, 'A', 1],
    ['Shaft power', point.mechanicalPower, 'W', 1],
    ['Efficiency', point.efficiency, '%', 100],
  ]
  return (
    <section class="plate" aria-label="Operating point" aria-live="polite">
      <dl class="engraved">
        <div>
          <dt>Load torque</dt>
          <dd>{readingText(point.torqueNm, 'N m', 4).text}</dd>
        </div>
        {rows.map(([label, one, unit, factor]) => (
          <div key={label}>
            <dt>{label}</dt>
            <dd>
              {one === null
                ? '–'
                : quantityText(one.value * factor, unit, one.standardUncertainty * factor).text}
            </dd>
          </div>
        ))}
      </dl>
    </section>
  )
}

const PICTURE = { width: 470, height: 360 }
const QUADRANTS = { width: 470, height: 250 }

function Drawn(at: At) {
  const { motor, volt, warm, share } = at
  const points = useMemo(() => motorCurves(motor, volt, warm), [motor, volt, warm])
  const operating = useMemo(() => operatingPoint(at), [motor, volt, warm, share])
  const curves = useMemo(() => curvePicture(points, operating, PICTURE), [points, operating])
  const quadrants = useMemo(
    () => quadrantPicture(motor, volt, warm, QUADRANTS),
    [motor, volt, warm],
  )
  const where = `${readingText(volt, 'V', 3).text}, winding at ${celsius(warm)}`
  return (
    <div class="stack">
      {points.length > 0 && (
        <section class="plate" aria-label="Curves">
          <Picture
            drawing={curves}
            label={`Speed, current, shaft power and efficiency over load torque at ${where}`}
          />
          <p class="quiet small">
            Bands: 95 % intervals from the uncertainties of the parameters. Diamond: the load
            chosen.
          </p>
        </section>
      )}
      <section class="plate" aria-label="Four quadrants">
        <h2>Four quadrants</h2>
        <Picture
          drawing={quadrants}
          label={`Shaft torque over speed at ${where}: driven either way, and short-circuited`}
        />
        <p class="quiet small">
          Where torque and speed have the same sign the motor drives; where not, it brakes: it feeds
          the supply, or turns the power of shaft and supply into heat.
        </p>
      </section>
    </div>
  )
}
