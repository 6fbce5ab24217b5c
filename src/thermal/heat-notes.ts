import type { TestRun } from '../records/test-run.ts'
import type { HeatFit } from './fit-heat.ts'
import { ASSUMED_CELSIUS } from './heat-blocks.ts'
import type { HeatOrder } from './heat-order.ts'
import type { Belief } from './heat-setting.ts'
import { highestMeanCelsius } from './insulation.ts'

/** What a reader must know beside the numbers of a heating run. */
export const CAUTIONS = [
  'Winding and case burn skin long after the test; a stalled winding is at its limit within seconds. Hands off, nothing flammable near, somebody beside the bench all the time.',
  'Temperature by resistance is a mean: in a stall the hottest coil of a few-slot rotor warms about twice as fast (common practice, no source). Set a protection to half of the times told here or less.',
  'Brushes, bearings, adhesives and magnets may have lower limits than the insulation class; local rules and the maker come first.',
]

type Started = Pick<TestRun, 'conditions'>

export function assumptionsOf(order: HeatOrder, run: Started, steadyShare: Belief): string[] {
  const { insulation } = order
  return [
    'the winding is copper, R(T) by 234.5 + T; winding, housing and air are each at one temperature',
    'winding and housing were at the same temperature when the run began',
    `${(100 * steadyShare.value).toFixed(1)} % of the resistance is brushes and leads and does not warm with the winding${order.contactOhm === null ? ' (usual, no source)' : ' (as stated)'}`,
    order.brushDrop
      ? 'brush drop as identified, corrected by the run where its currents differ'
      : 'brush drop and how it builds up from the run itself, as far as its currents differ',
    `class ${insulation.name} of IEC 60085: ${insulation.hottestCelsius} °C at the hottest place, ${highestMeanCelsius(insulation)} °C in the mean by resistance`,
    `limits hold for air of ${order.ambientCelsius} °C, the motor mounted and the air moving as in the run`,
    order.frictionWatt > 0
      ? `friction adds ${order.frictionWatt.toPrecision(3)} W to the housing`
      : 'standing shaft: a turning one adds the heat of friction and may cool better or worse',
    'warm means half of the rise that the limit allows',
    ...(run.conditions.windingCelsius === null && run.conditions.ambientCelsius === null
      ? [`nobody said how warm the motor was: ${ASSUMED_CELSIUS} °C is taken`]
      : []),
  ]
}

/** Residuals beyond this say that two masses are not enough, or that something else changed. */
const LARGE_RESIDUAL_KELVIN = 2

export function warningsOf(run: Started, fit: HeatFit, largestKelvin: number) {
  const warnings: { code: string; text: string }[] = []
  if (run.conditions.windingCelsius === null && run.conditions.ambientCelsius === null) {
    warnings.push({
      code: 'assumed-temperature',
      text: `nobody said how warm the winding was at the start; ${ASSUMED_CELSIUS} °C is taken`,
    })
  }
  if (largestKelvin > LARGE_RESIDUAL_KELVIN) {
    warnings.push({
      code: 'lack-of-fit',
      text: `the two-mass model misses readings by up to ${largestKelvin.toFixed(1)} K: did the rotor move, a fan start, the clamp take heat away?`,
    })
  }
  if (fit.termination === 'pass-limit') {
    warnings.push({ code: 'pass-limit', text: 'the fit stopped at its limit of passes' })
  }
  return warnings
}
