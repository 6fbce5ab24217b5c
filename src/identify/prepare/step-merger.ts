import type { BuiltStep, StepBuilder } from './step-builder.ts'

/** How far the means of two neighbours may differ and still be merged, for one channel. */
export interface MergeTolerance {
  readonly plain: number
  /** Share of the reading itself; null where it does not matter. */
  readonly share: number | null
  /** Ripple and hum that mean no change, near the value to which the span settles. */
  readonly ripple: number
  readonly settled: number
  readonly settledWithin: number
  /** Standard deviation of a sample: chance differences are allowed for. */
  readonly noise: number
}

export interface MergeTolerances {
  readonly voltage: MergeTolerance
  readonly current: MergeTolerance
  readonly speed: MergeTolerance
}

/** What holds from one bridge edge to the next. */
export interface MergeLimits {
  readonly tolerances: MergeTolerances
  /** Steps grow to at most 2^`largestLevel` samples. */
  readonly largestLevel: number
}

/** Scatter within a step counts as ripple from so many times the variance of the noise. */
const RIPPLE_CLEAR = 2

/** Differences up to so many standard deviations are put down to chance. */
const CHANCE = 3

/** Of 2^level samples. */
interface PendingStep extends BuiltStep {
  level: number
}

/**
 * Joins neighbouring steps of equal length while nothing changes but noise: one, two, four, … samples
 * to a step. Where current and speed move, steps stay single. Hands finished steps to the builder.
 */
export class StepMerger {
  private readonly builder: StepBuilder
  private limits: MergeLimits = NOTHING_ALIKE
  /** Class of a step of 2^level samples. */
  private readonly classOfLevel: (level: number) => number
  private readonly pending: PendingStep[] = []
  private readonly spare: PendingStep[] = []
  /** To be filled and added next: steps are filled where they stay, for there is one for every sample. */
  step: PendingStep = emptyStep()

  constructor(builder: StepBuilder, classOfLevel: (level: number) => number) {
    this.builder = builder
    this.classOfLevel = classOfLevel
  }

  /** What holds for the steps from here on. */
  setLimits(limits: MergeLimits): void {
    this.limits = limits
  }

  /** Takes `step` as it was filled: one sample of the usual length. */
  add(): void {
    this.step.level = 0
    this.pending.push(this.step)
    this.step = this.spare.pop() ?? emptyStep()
    for (;;) {
      const n = this.pending.length
      if (n < 2) return
      const late = this.pending[n - 1]!
      const early = this.pending[n - 2]!
      if (early.level !== late.level) return
      if (early.level >= this.limits.largestLevel || !this.alike(early, late)) {
        this.release(n - 1)
        return
      }
      early.voltage = (early.voltage + late.voltage) / 2
      // Variance about the common mean; noise is taken off when the step is handed over.
      const apart = (early.current - late.current) / 2
      early.currentRipple = (early.currentRipple + late.currentRipple) / 2 + apart * apart
      early.current = (early.current + late.current) / 2
      early.speed = (early.speed + late.speed) / 2
      early.loadTorque = (early.loadTorque + late.loadTorque) / 2
      early.heat += late.heat
      early.sample = late.sample
      early.level += 1
      this.pending.pop()
      this.spare.push(late)
    }
  }

  /** Hands over everything that waits. */
  flush(): void {
    this.release(this.pending.length)
  }

  private release(count: number): void {
    for (let k = 0; k < count; k++) {
      const step = this.pending[k]!
      step.classIndex = this.classOfLevel(step.level)
      const noise = this.limits.tolerances.current.noise ** 2 * (1 - 1 / 2 ** step.level)
      const ripple = step.currentRipple - RIPPLE_CLEAR * noise
      step.currentRipple = ripple > 0 ? step.currentRipple - noise : 0
      this.builder.push(step)
      this.spare.push(step)
    }
    const left = this.pending.length - count
    for (let k = 0; k < left; k++) this.pending[k] = this.pending[k + count]!
    this.pending.length = left
  }

  private alike(a: PendingStep, b: BuiltStep): boolean {
    if (b.start !== 0 || b.edgeDoubt !== 0 || a.phase !== b.phase || a.span !== b.span) return false
    if (a.start !== 0 && a.level === 0) return false
    const chance = CHANCE * Math.sqrt(2 / 2 ** a.level)
    const { voltage, current, speed } = this.limits.tolerances
    return (
      close(a.voltage, b.voltage, voltage, chance) &&
      close(a.current, b.current, current, chance) &&
      close(a.speed, b.speed, speed, chance)
    )
  }
}

export const emptyStep = (): PendingStep => ({
  classIndex: 0,
  phase: 0,
  start: 0,
  voltage: 0,
  current: 0,
  speed: 0,
  currentRipple: 0,
  loadTorque: 0,
  heat: 0,
  edgeDoubt: 0,
  sample: 0,
  span: 0,
  level: 0,
})

export const NOTHING_ALLOWED: MergeTolerance = {
  plain: 0,
  share: null,
  ripple: 0,
  settled: 0,
  settledWithin: 0,
  noise: 0,
}
const NOTHING_ALIKE: MergeLimits = {
  tolerances: { voltage: NOTHING_ALLOWED, current: NOTHING_ALLOWED, speed: NOTHING_ALLOWED },
  largestLevel: 0,
}

/** Both missing counts as alike; one of them missing does not. */
function close(a: number, b: number, tolerance: MergeTolerance, chance: number): boolean {
  const distance = Math.abs(a - b)
  const { plain, share } = tolerance
  const allowed = share === null ? plain : Math.min(plain, share * Math.abs(a + b))
  const settled = Math.abs((a + b) / 2 - tolerance.settled) <= tolerance.settledWithin
  const ripple = settled ? tolerance.ripple : 0
  if (distance <= allowed + ripple + chance * tolerance.noise) return true
  return Number.isNaN(a) && Number.isNaN(b)
}
