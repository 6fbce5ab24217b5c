import type { TestKind } from '../records/test-kind.ts'
import type { Switching } from './brush-drop.ts'
import type { StepClass } from './step-matrices.ts'

/** What the terminals do during a step. */
export const PHASE = {
  /** Voltage is the input (brake: about zero volts), current a reading. */
  driven: 0,
  /** Terminals open: no current, the voltage is a reading. */
  open: 1,
  /** Freewheeling after the terminals opened: nothing is read until the current has gone. */
  blank: 2,
  /** No voltage channel: the current is the input. */
  currentFed: 3,
} as const

export const isOpen = (phase: number): boolean => phase === PHASE.open || phase === PHASE.blank

/** What happens at the start of a step. */
export const START = {
  goesOn: 0,
  /** States begin anew from this step's own readings: after a gap, or at the start of a run. */
  anew: 1,
  /** The run begins at rest without current. */
  atRest: 2,
} as const

/**
 * One run as the identification sees it: a sequence of steps, each with a voltage (or current) held
 * over it and readings at its end or as means over it. A step is one sample period, part of one
 * (where a bridge edge divides it) or several in which nothing much changes.
 */
export interface PreparedRun {
  readonly runId: number
  readonly kind: TestKind
  readonly shaft: 'free' | 'locked'
  readonly stepCount: number
  readonly classes: readonly StepClass[]
  readonly classOf: Uint16Array
  readonly phase: Uint8Array
  readonly start: Uint8Array
  /** Driven: terminal voltage over the step. Open: its reading. Current-fed: unused. */
  readonly voltage: Float64Array
  /** Reading (current-fed: input over the step); NaN where there is none. */
  readonly current: Float64Array
  readonly speed: Float64Array
  /** Variance of the current about its mean within a step of several samples, beyond its noise: ripple. */
  readonly currentRipple: Float64Array
  /** Torque of the load, input, positive against positive speed; null where it is the constant below. */
  readonly loadTorque: Float64Array | null
  readonly loadTorqueNm: number
  /** What the bench adds to the rotor in this run. */
  readonly added: {
    readonly inertiaKgM2: number
    readonly coulombNm: number
    readonly viscousNmsPerRad: number
  }
  /** The torque balance is not known (a shaft turned by hand, an unknown load). */
  readonly torqueUnknown: boolean
  /**
   * Resistance of what feeds the motor: how the voltage gives way to the current from sample to sample.
   * The measured voltage is a mean over the step; this says how it is spread within.
   */
  readonly sourceOhm: number
  /** Null also where the bus or the frequency is not known. */
  readonly switching: Switching | null
  /** ∫i²dt over each step, A²s. */
  readonly heat: Float64Array
  /** Variance added to the voltage×time of a step where an edge's moment is not known, V²s². */
  readonly edgeDoubt: Float64Array
  /** Last sample that a step covers. */
  readonly sampleOf: Int32Array
  /** Batch of neighbouring steps to which a step's score is counted; never decreases. */
  readonly cellOf: Uint16Array
  /** Span between bridge edges to which each cell belongs. */
  readonly spanOfCell: Uint16Array
  readonly startCelsius: number
  readonly magnetCelsius: number
}

/** What disturbs one run: variances a sample of the channels, and what the model leaves out. */
export interface NoiseLevels {
  readonly voltage: number
  readonly current: number
  readonly speed: number
  readonly openVoltage: number
  readonly loadTorque: number
  /** Variance of ripple in the back-EMF relative to its square: driven, and on open terminals. */
  readonly ripple: number
  readonly openRipple: number
  /** Variance of the voltage across the winding's resistance relative to its square, while turning. */
  readonly resistanceRipple: number
  /** While the shaft turns: factors on the variances of current and speed. */
  readonly currentFactor: number
  readonly speedFactor: number
  /** Power density of a disturbance of the torque while the shaft turns, N²m²s. */
  readonly torque: number
  /** Power density of ripple in the winding's torque relative to its square, s. */
  readonly torqueRipple: number
}
