import { riseKelvin } from './heat.ts'
import type { PlanGuard } from './test-plan.ts'

/**
 * Rise of the winding within pulses of a locked rotor, sample by sample: the resistance early in a
 * pulse, once the current has risen, is compared with the one in later windows of the same pulse.
 * Only within a pulse, because the brush drop makes levels incomparable. Rises of earlier pulses of
 * the run are added up; what has cooled away between them is not taken off.
 */
export interface WindingWatch {
  pulseStartSec: number
  early: Sums
  late: Sums
  /** Of pulses that are over. */
  riseKelvin: number
  /** Of the pulse that is on. */
  pulseKelvin: number
}

interface Sums {
  count: number
  volt: number
  voltSquares: number
  amp: number
  ampSquares: number
}

const EARLY_FROM_SEC = 0.02
const WINDOW_SEC = 0.02
/** A rise must exceed its own noise by this many standard uncertainties. */
const SIGNIFICANT = 5
const FEWEST_SAMPLES = 8
const OHMIC_OVER_DROP = 2

const noSums = (): Sums => ({ count: 0, volt: 0, voltSquares: 0, amp: 0, ampSquares: 0 })

export function newWindingWatch(): WindingWatch {
  return {
    pulseStartSec: Number.NaN,
    early: noSums(),
    late: noSums(),
    riseKelvin: 0,
    pulseKelvin: 0,
  }
}

export function windingPulseStarts(watch: WindingWatch, timeSec: number): void {
  watch.riseKelvin += watch.pulseKelvin
  watch.pulseKelvin = 0
  watch.pulseStartSec = timeSec
  clear(watch.early)
  clear(watch.late)
}

/** Adds one sample of a driven, locked rotor. Returns the mean rise so far, less its uncertainty. */
export function windingSample(
  watch: WindingWatch,
  guard: PlanGuard,
  timeSec: number,
  volt: number,
  amp: number,
): number {
  const elapsed = timeSec - watch.pulseStartSec
  if (elapsed < EARLY_FROM_SEC) return watch.riseKelvin + watch.pulseKelvin
  if (elapsed < EARLY_FROM_SEC + WINDOW_SEC) add(watch.early, volt, amp)
  else {
    add(watch.late, volt, amp)
    const window = Math.floor((elapsed - EARLY_FROM_SEC) / WINDOW_SEC)
    const lateFrom = EARLY_FROM_SEC + window * WINDOW_SEC
    if (watch.late.count > FEWEST_SAMPLES && elapsed - lateFrom > 0.9 * WINDOW_SEC)
      judge(watch, guard)
  }
  return watch.riseKelvin + watch.pulseKelvin
}

function judge(watch: WindingWatch, guard: PlanGuard): void {
  const { early, late } = watch
  // Near the brush drop a little voltage is left for the resistance, and little heat is made.
  const isOhmic = Math.abs(late.volt / late.count) > OHMIC_OVER_DROP * guard.brushVolt
  if (early.count >= FEWEST_SAMPLES && isOhmic) {
    const earlyOhm = ohms(early, guard.brushVolt)
    const ratio = ohms(late, guard.brushVolt) / earlyOhm
    const uncertainty = Math.hypot(scatter(early, guard.brushVolt), scatter(late, guard.brushVolt))
    const rise = riseKelvin(ratio - SIGNIFICANT * uncertainty, guard.startCelsius)
    if (Number.isFinite(rise)) watch.pulseKelvin = Math.max(0, rise)
  }
  clear(late)
}

function ohms(sums: Sums, brushVolt: number): number {
  const amp = sums.amp / sums.count
  return (Math.abs(sums.volt / sums.count) - brushVolt) / Math.abs(amp)
}

/** Relative standard uncertainty of the resistance from the scatter of voltage and current. */
function scatter(sums: Sums, brushVolt: number): number {
  const volt = deviationOfMean(sums.count, sums.volt, sums.voltSquares)
  const amp = deviationOfMean(sums.count, sums.amp, sums.ampSquares)
  const ohmicVolt = Math.abs(sums.volt / sums.count) - brushVolt
  return Math.hypot(volt / ohmicVolt, (amp * sums.count) / sums.amp)
}

function deviationOfMean(count: number, sum: number, squares: number): number {
  const mean = sum / count
  return Math.sqrt(Math.max(0, squares / count - mean * mean) / count)
}

function add(sums: Sums, volt: number, amp: number): void {
  sums.count++
  sums.volt += volt
  sums.voltSquares += volt * volt
  sums.amp += amp
  sums.ampSquares += amp * amp
}

function clear(sums: Sums): void {
  sums.count = 0
  sums.volt = 0
  sums.voltSquares = 0
  sums.amp = 0
  sums.ampSquares = 0
}
