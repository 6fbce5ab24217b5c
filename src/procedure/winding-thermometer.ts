import { riseKelvin } from './heat.ts'
import type { PlanGuard, ThermometerGuard } from './test-plan.ts'

/**
 * The winding as thermometer over a whole run with a locked shaft: v/i in windows of every pulse against the
 * lowest that the same voltage showed so far. At a constant voltage V over a constant brush drop V_b
 *   v/i = R V/(V − V_b)
 * is in proportion to R, so that levels are compared each with itself. Cooling counts: the temperature is
 * what the last window says, not a sum of rises. The winding has to be as warm as stated when the run begins.
 */
export interface WindingThermometer {
  pulseSec: number
  windowSec: number
  count: number
  volt: number
  amp: number
  /** Of each level, ohm; NaN before its first window. */
  readonly lowestOhm: number[]
  /** Over the start, by the last window. */
  meanRiseKelvin: number
  /** How fast it rose from the first window of the last heating pulse to its last; 0 before. */
  kelvinPerSec: number
  firstRise: number
  firstSec: number
}

/** After the bridge closed, current and contact settle for so long. */
export const THERMOMETER_SETTLE_SEC = 0.1
export const THERMOMETER_WINDOW_SEC = 0.06
const FEWEST_SAMPLES = 8
/**
 * Brushes and leads do not warm with the winding: a rise of the whole is at least so much of the winding's.
 * Usual share 3 %, twice its spread added. Common practice, no source.
 */
const LEAST_COPPER_SHARE = 0.93

export const newThermometer = (): WindingThermometer => ({
  pulseSec: Number.NaN,
  windowSec: Number.NaN,
  count: 0,
  volt: 0,
  amp: 0,
  lowestOhm: [],
  meanRiseKelvin: 0,
  kelvinPerSec: 0,
  firstRise: Number.NaN,
  firstSec: Number.NaN,
})

export function thermometerPulseStarts(state: WindingThermometer, timeSec: number): void {
  state.pulseSec = timeSec
  state.firstRise = Number.NaN
  clear(state, timeSec + THERMOMETER_SETTLE_SEC)
}

/** Adds one sample of a driven, locked rotor. Returns the mean rise by the last whole window. */
export function thermometerSample(
  state: WindingThermometer,
  guard: Pick<PlanGuard, 'startCelsius'>,
  { levelVolts }: ThermometerGuard,
  timeSec: number,
  volt: number,
  amp: number,
): number {
  if (timeSec < state.windowSec) return state.meanRiseKelvin
  state.count++
  state.volt += volt
  state.amp += amp
  const isWhole = timeSec - state.windowSec > 0.9 * THERMOMETER_WINDOW_SEC
  if (isWhole && state.count >= FEWEST_SAMPLES) {
    const meanVolt = Math.abs(state.volt / state.count)
    const ohm = meanVolt / Math.max(Number.MIN_VALUE, Math.abs(state.amp / state.count))
    const level = nearestLevel(levelVolts, meanVolt)
    read(state, guard.startCelsius, level, ohm)
    if (level === levelVolts.length - 1) followRate(state, timeSec)
    clear(state, timeSec)
  }
  return state.meanRiseKelvin
}

function read(state: WindingThermometer, startCelsius: number, level: number, ohm: number): void {
  const before = state.lowestOhm[level] ?? Number.NaN
  // A contact that got better since shows as a lower resistance: what came before was then no warmer.
  const lowest = Number.isNaN(before) ? ohm : Math.min(before, ohm)
  state.lowestOhm[level] = lowest
  state.meanRiseKelvin = riseKelvin(ohm / lowest, startCelsius) / LEAST_COPPER_SHARE
}

/** Pulses of the highest voltage heat; what is read under the others cools. */
function followRate(state: WindingThermometer, timeSec: number): void {
  if (Number.isNaN(state.firstRise)) {
    state.firstRise = state.meanRiseKelvin
    state.firstSec = timeSec
    return
  }
  const rate = (state.meanRiseKelvin - state.firstRise) / (timeSec - state.firstSec)
  state.kelvinPerSec = Math.max(0, rate)
}

function nearestLevel(levelVolts: readonly number[], volt: number): number {
  const far = (level: number) => Math.abs(Math.log(volt / level))
  return levelVolts.reduce((best, level, i) => (far(level) < far(levelVolts[best]!) ? i : best), 0)
}

function clear(state: WindingThermometer, fromSec: number): void {
  state.windowSec = fromSec
  state.count = 0
  state.volt = 0
  state.amp = 0
}
