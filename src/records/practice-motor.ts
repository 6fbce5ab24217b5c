/**
 * An invented motor, described by what a practice rig's physics is made of rather than by the
 * parameters a fit reports. SI; temperatures in degrees Celsius. Its file format is checked by
 * `practiceMotorFile` in src/contract/practice-motor.ts.
 */
export interface PracticeMotor {
  readonly schema: 'practice-motor/1'
  readonly name: string
  readonly maker: string
  readonly description: string
  readonly rating: PracticeRating
  readonly winding: PracticeWinding
  readonly magnet: PracticeMagnet
  readonly brush: PracticeBrush
  readonly friction: PracticeFriction
  readonly cogging: PracticeCogging
  readonly inertiaKgM2: number
  readonly thermal: PracticeThermal
  readonly across?: PracticeAcross | undefined
  readonly cutOut?: PracticeCutOut | undefined
  readonly gear?: PracticeGear | undefined
}

/** Parts between the terminals that keep a motor quiet: each takes its own current beside the winding's. */
export interface PracticeAcross {
  /** 0: none. */
  readonly capacitorFarad: number
  /** Voltage at which a varistor takes 1 mA; 0: none. Its current rises with the power `varistorExponent`. */
  readonly varistorVolt: number
  readonly varistorExponent: number
}

/** A bimetal in series with the winding that feels its temperature. */
export interface PracticeCutOut {
  readonly opensCelsius: number
  readonly closesCelsius: number
}

/** A gearbox by what the motor feels of it: friction that is there only once the play is taken up. */
export interface PracticeGear {
  /** Play, and friction, both at the motor's shaft. */
  readonly backlashRad: number
  readonly coulombNm: number
}

/** A damaged winding: one coil broken, or short-circuited between its segments. */
export interface PracticeWindingFault {
  readonly kind: 'open-coil' | 'shorted-segments'
  /** From 0. */
  readonly coil: number
}

export interface PracticeRating {
  readonly voltageVolt: number
  readonly currentAmp: number
  /** Mechanical output at rated voltage and current. */
  readonly powerWatt: number
  readonly speedLimitRadPerSec: number
}

/** A closed ring of one coil a segment, tapped by 2p brushes a pole pitch apart (lap winding). */
export interface PracticeWinding {
  readonly segments: number
  readonly polePairs: number
  /** Copper between the terminals at 20 degC, mean over the shaft angle. */
  readonly copperOhm: number
  readonly inductanceHenry: number
  /** Relative standard deviation between the coils of resistance and of flux linkage. */
  readonly coilUnevenness: number
  /** Standard deviation of the position of a segment's edge, in segment pitches. */
  readonly segmentUnevenness: number
  /** Fixes which coils and segments deviate: another number is another specimen. */
  readonly patternSeed: number
  readonly fault?: PracticeWindingFault | undefined
}

export interface PracticeMagnet {
  /** Back-EMF constant, mean over the shaft angle, magnets at 20 degC; torque constant alike in SI. */
  readonly backEmfConstantVsPerRad: number
  /** Relative change of flux per kelvin of magnet temperature; negative. */
  readonly coefficientPerKelvin: number
  /** Third harmonic of a coil's flux linkage rate, relative: 0 sinusoidal, 0.1 flat-topped. */
  readonly flatness: number
  /** Share of the commutation ripple of the constant that skewed slots leave: 1 unskewed. */
  readonly rippleShare: number
}

export interface PracticeBrush {
  readonly kind: 'carbon' | 'metal-graphite' | 'precious-metal'
  /** Drop over both brushes: dropVolt tanh(i / kneeAmp). */
  readonly dropVolt: number
  readonly kneeAmp: number
  /** Ohmic part of brushes, their holders and leads; does not follow the winding temperature. */
  readonly contactOhm: number
  /** Standard deviation of the contact resistance from one segment to the next. */
  readonly contactNoiseOhm: number
  /** Share of a coil's resistance that a brush across its segments shorts out; metal more, carbon less. */
  readonly shortingShare: number
  /** Width of a brush, in segment pitches. */
  readonly widthSegments: number
}

export interface PracticeFriction {
  /** Sliding friction, mean over angle and direction. */
  readonly coulombNm: number
  /** Break-away friction. */
  readonly staticNm: number
  /** Speed at which the excess of break-away over sliding friction has fallen to 1/e. */
  readonly stribeckRadPerSec: number
  readonly viscousNmsPerRad: number
  readonly windageNms2PerRad2: number
  /** Relative excess of dry friction in positive over the mean of both directions. */
  readonly directionShare: number
  /** Places on the turn where dry friction is higher (or lower): raised-cosine bumps. */
  readonly bumps: readonly PracticeBump[]
}

export interface PracticeBump {
  readonly angleRad: number
  readonly widthRad: number
  readonly torqueNm: number
}

export interface PracticeCogging {
  readonly periodsPerTurn: number
  readonly amplitudeNm: number
}

/** Winding and housing as two masses; the magnets have the temperature of the housing. */
export interface PracticeThermal {
  readonly windingJPerK: number
  readonly housingJPerK: number
  readonly windingToHousingKPerW: number
  readonly housingToAmbientKPerW: number
}
