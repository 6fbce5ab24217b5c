import { copperOhm, type HeatModel } from './heat-course.ts'
import { advanceTemperatures, type Temperatures, timeConstantsSec } from './two-mass.ts'

/** What a drive does to a shaft that does not turn: a constant voltage at the terminals, or a constant current. */
export type Stall = { readonly volt: number } | { readonly amp: number }

/** The winding warms by no more than this in one step. */
const STEP_KELVIN = 0.5
/** After so many slow time constants nothing changes any more. */
const SETTLED = 12
const HALVINGS = 30

export function stallAmp(model: HeatModel, stall: Stall, startCelsius: number, celsius: number) {
  if ('amp' in stall) return stall.amp
  const ohm = copperOhm(model, startCelsius, celsius) + model.steadyShare * model.startOhm
  return Math.max(0, stall.volt - model.brushDropVolt) / ohm
}

/**
 * Time from `from` until the mean of a stalled winding reaches its limit; Infinity where it never does. The
 * two-mass model in exact steps at the heat of their middle, the last one shortened to the limit.
 */
export function stallTimeSec(
  model: HeatModel,
  stall: Stall,
  from: Temperatures,
  startCelsius: number,
  ambientCelsius: number,
  limitCelsius: number,
): number {
  const last = SETTLED * timeConstantsSec(model).slow
  const heatAt = (celsius: number) => {
    const amp = stallAmp(model, stall, startCelsius, celsius)
    return {
      windingWatt: copperOhm(model, startCelsius, celsius) * amp * amp,
      housingWatt: model.brushDropVolt * amp + model.steadyShare * model.startOhm * amp * amp,
    }
  }
  const go = (at: Temperatures, spanSec: number) => {
    const half = advanceTemperatures(
      model,
      at,
      heatAt(at.windingCelsius),
      ambientCelsius,
      spanSec / 2,
    )
    return advanceTemperatures(model, at, heatAt(half.windingCelsius), ambientCelsius, spanSec)
  }
  let at = from
  let sec = 0
  if (at.windingCelsius >= limitCelsius) return 0
  while (sec < last) {
    const quick = (STEP_KELVIN * model.windingJPerK) / heatAt(at.windingCelsius).windingWatt
    // A step may be long only against what still has to happen.
    const spanSec = Math.min(Math.max(quick, 1e-3 * sec), last / 200)
    const next = go(at, spanSec)
    if (next.windingCelsius >= limitCelsius) {
      let low = 0
      let high = spanSec
      for (let n = 0; n < HALVINGS; n++) {
        const middle = (low + high) / 2
        if (go(at, middle).windingCelsius < limitCelsius) low = middle
        else high = middle
      }
      return sec + (low + high) / 2
    }
    at = next
    sec += spanSec
  }
  return Number.POSITIVE_INFINITY
}
