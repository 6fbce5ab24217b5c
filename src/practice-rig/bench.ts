import type { Quantity } from '../records/quantity.ts'

/** What stands around a practice motor: supply, bridge, fixture and sensors, as they truly are. */
export interface PracticeBench {
  readonly supply: PracticeSupply
  readonly bridge: PracticeBridge
  readonly fixture: PracticeFixture
  readonly ambientCelsius: number
  readonly channels: readonly PracticeChannel[]
}

export interface PracticeSupply {
  /** Voltage of the bus without load. */
  readonly openVolt: number
  readonly resistanceOhm: number
  /** The supply folds its voltage back so that no more than this flows. */
  readonly limitAmp: number
  /** Behind a PWM bridge, a supply that cannot sink lets a braking motor pump the bus up. */
  readonly sinks: boolean
  /** Capacitance of the bus of a PWM bridge. */
  readonly busFarad: number
  /** Amplitude and frequency of hum on the supply. */
  readonly humVolt: number
  readonly humHz: number
}

export interface PracticeBridge {
  /**
   * `linear`: a four-quadrant amplifier behind the supply's resistance. `pwm`: centred pulses from
   * the bus, terminals shorted between them (slow decay, synchronous).
   */
  readonly kind: 'linear' | 'pwm'
  readonly pwmHz: number
  /** Both switches in the path, and the leads to the motor. */
  readonly pathOhm: number
  /** One body diode; two lie in the freewheel path. */
  readonly diodeVolt: number
}

/** Coupling and encoder disc. */
export interface PracticeFixture {
  readonly inertiaKgM2: number
  readonly coulombNm: number
  readonly viscousNmsPerRad: number
}

export interface PracticeChannel {
  readonly name: string
  readonly quantity: Quantity
  /** Readings span -fullScale … fullScale (0 … fullScale where `unipolar`) in 2^bits codes… */
  readonly fullScale: number
  readonly unipolar: boolean
  /** …about this value (a temperature range need not begin at 0). */
  readonly originSI: number
  readonly bits: number
  /** Standard deviation of white noise on one reading, SI. */
  readonly noise: number
  /** Averaging window, at most one sample period; `period` is the whole of it. */
  readonly apertureSec: number | 'period'
  /** Time from the end of the window to the time stamp; at most one sample period. */
  readonly delaySec: number
  /** Calibration: standard uncertainties from which the errors of a seed are drawn. */
  readonly gainUncertainty: number
  readonly zeroUncertainty: number
  /** Speed and position come from an encoder where this is given. */
  readonly encoder: PracticeEncoder | null
}

export interface PracticeEncoder {
  readonly countsPerTurn: number
  /** Speed is the turn made in this window (at least one sample period) over its length. */
  readonly windowSec: number
  /** `count`: whole counts in the window. `timed`: between the last edges, timed. */
  readonly method: 'count' | 'timed'
  /** Eccentricity of the disc: amplitude of a once-per-turn error of angle. */
  readonly eccentricityRad: number
}
