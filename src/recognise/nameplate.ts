import type { HeatDocument } from '../contract/heat-document.ts'
import type { PlateNumber } from '../contract/recognise-document.ts'
import { resistanceRatio } from '../motor/winding-temperature.ts'
import { DRAG_TERMS } from '../analysis/friction.ts'
import { propagate } from '../statistics/propagation.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import { constantOf, type FirstLook } from './first-look.ts'

/** Usual rated voltages of small DC motors: IEC 60038 lists 6, 12, 24, 36, 48 V as preferred (from memory). */
const USUAL_VOLT = [1.5, 3, 6, 9, 12, 24, 36, 48, 60, 72, 96, 110, 220] as const

/** A free motor of usual make turns at about this speed on its rated voltage. Common practice, no source. */
const USUAL_FREE_RAD_PER_SEC = 600
/** A drag current found from one run is good to this share for another speed. */
const DRAG_SHARE = 0.1

export interface PlateOrder {
  /** Chosen by the user; null: proposed. */
  readonly ratedVolt: number | null
  readonly referenceCelsius: number
}

/** A nameplate as the tests suggest it, with what each line rests on. */
export function proposeNameplate(
  look: FirstLook,
  heat: HeatDocument | null,
  order: PlateOrder,
): { lines: PlateNumber[]; assumptions: string[] } {
  const k = constantOf(look)
  const constant = k && { ...k, value: Math.abs(k.value) }
  const drag = dragOf(look)
  const { resistance, brushDrop } = look.known
  const driven = highestVolt(look)
  const rated = order.ratedVolt ?? (constant ? usualVolt(constant.value, driven) : null)
  const inputs: (Estimate | null)[] = [resistance ?? null, brushDrop ?? null, constant, drag]
  const x = inputs.map(each => each?.value ?? 0)
  const covariance = inputs.map((each, j) =>
    inputs.map((_, l) => (j === l ? (each?.standardUncertainty ?? 0) ** 2 : 0)),
  )
  const line = (
    label: string,
    unit: string,
    lacking: string | null,
    of: (x: readonly number[]) => number,
    basis: string,
  ): PlateNumber => {
    if (lacking !== null || rated === null) {
      const basis = lacking ?? 'k is not known: a free run with a speed channel tells it'
      return { label, unit, value: null, standardUncertainty: null, basis }
    }
    const { value, standardUncertainty } = propagate(of, x, covariance)
    return { label, unit, value, standardUncertainty, basis }
  }
  const noStall = resistance ? null : 'the resistance is not known: a locked-rotor test tells it'
  const noFree =
    noStall ?? (drag ? null : 'the drag is not known: a free run at a steady voltage tells it')
  const noK = constant ? null : 'k is not known: a free run with a speed channel tells it'
  const stall = (y: readonly number[]) => Math.max(0, rated! - y[1]!) / y[0]!
  const lines: PlateNumber[] = [
    {
      label: 'Rated voltage',
      unit: 'V',
      value: rated,
      standardUncertainty: null,
      basis:
        rated === null
          ? noK!
          : order.ratedVolt !== null
            ? 'as stated'
            : `usual voltage nearest to that of ${Math.round((USUAL_FREE_RAD_PER_SEC * 30) / Math.PI)} rpm free, not above the ${driven.toPrecision(3)} V that was tried`,
    },
    continuousLine(heat),
    line('Free-run current', 'A', noFree, y => y[3]!, 'drag current of the free run'),
    line(
      'Free-run speed',
      'rad/s',
      noFree ?? noK,
      y => (rated! - y[1]! - y[0]! * y[3]!) / y[2]!,
      '(V − V_b − R i_0)/k',
    ),
    line('Stall current', 'A', noStall, stall, '(V − V_b)/R, winding as warm as in the tests'),
    line(
      'Stall torque',
      'N m',
      noFree ?? noK,
      y => y[2]! * (stall(y) - y[3]!),
      'k (i_stall − i_0), k_t taken equal to k_e',
    ),
  ]
  return { lines, assumptions: assumptionsOf(heat, order) }
}

function continuousLine(heat: HeatDocument | null): PlateNumber {
  const head = { label: 'Continuous current', unit: 'A' }
  const found = heat?.limits.continuousCurrent
  if (!heat || !found) {
    const basis = 'no heating run: one, with its cooling, tells it'
    return { ...head, value: null, standardUncertainty: null, basis }
  }
  const { value, standardUncertainty } = found
  return {
    ...head,
    value,
    standardUncertainty,
    basis:
      value === null
        ? found.reason!
        : `run ${heat.run}, class ${heat.limitsFor.insulationClass}, air of ${heat.limitsFor.ambientCelsius} °C, shaft at rest`,
  }
}

const assumptionsOf = (heat: HeatDocument | null, { referenceCelsius }: PlateOrder): string[] => [
  `resistance as in the tests; at ${referenceCelsius + 80} °C it is ${resistanceRatio(referenceCelsius + 80, referenceCelsius).toFixed(2)} times that of ${referenceCelsius} °C, and the stall torque smaller by as much`,
  'the rated voltage is a proposal from speed and usage: neither insulation nor commutation at it was tested',
  'torque from k_e = k_t, which holds for the motor without iron losses; a torque sensor or a known load would check it',
  ...(heat
    ? [`continuous current: ${heat.assumptions[5]!}`]
    : ['no thermal limit was tested: stall only in pulses']),
]

/** Nearest usual voltage by ratio, among those that were tried or lie just above. */
function usualVolt(k: number, driven: number): number {
  const wanted = Math.min(k * USUAL_FREE_RAD_PER_SEC, 1.05 * driven)
  const allowed = USUAL_VOLT.filter(volt => volt <= 1.05 * driven)
  const usual = allowed.length > 0 ? allowed : USUAL_VOLT.slice(0, 1)
  const far = (volt: number) => Math.abs(Math.log(volt / wanted))
  return usual.reduce((best, volt) => (far(volt) < far(best) ? volt : best))
}

const highestVolt = ({ sampled }: FirstLook): number =>
  Math.max(0, ...sampled.map(({ voltage }) => voltage!.reach))

/** Current against dry friction, from the steady levels of a turning test. */
function dragOf({ turning }: FirstLook): Estimate | null {
  for (const { moving } of turning) {
    const { drag } = moving
    if (!drag?.terms.includes('coulomb') || moving.levels.length === 0) continue
    const fastest = Math.max(...moving.levels.map(({ speed }) => Math.abs(speed?.value ?? 0)))
    const [coulomb, viscous, windage] = DRAG_TERMS.map(term =>
      drag.terms.includes(term) ? drag.coefficients[DRAG_TERMS.indexOf(term)]! : 0,
    )
    const value = coulomb! + viscous! * fastest + windage! * fastest * fastest
    const own = Math.sqrt(drag.covariance[0]![0]!)
    return {
      value,
      standardUncertainty: Math.hypot(own, DRAG_SHARE * value),
      degreesOfFreedom: drag.degreesOfFreedom,
    }
  }
  return null
}
