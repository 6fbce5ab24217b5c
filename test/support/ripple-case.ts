import { fft } from 'fourier-transform'
import { seededNormal, seededUniform, type Uniform } from '../../src/base/random.ts'
import type { PracticeBench } from '../../src/practice-rig/bench.ts'
import { ripplesPerTurn } from '../../src/practice-rig/commutator.ts'
import { createPlant } from '../../src/practice-rig/create-plant.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { REALISTIC, withImperfections } from '../../src/practice-rig/imperfections.ts'
import { NO_GUARDS } from '../../src/practice-rig/plant.ts'
import { windowOf } from '../../src/numerics/spectrum/octave-spectrum.ts'
import { recordPractice } from '../../src/practice-rig/record-practice.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'
import type { Recording } from '../../src/records/recording.ts'
import { type TestRun, UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { practiceMotor } from './practice.ts'

/** One seeded measurement of a free-running motor: what is recorded, and what is true of it. */
export interface RippleCase {
  readonly seed: number
  readonly run: TestRun
  readonly motor: PracticeMotor
  readonly ripplesPerTurn: number
  readonly rateHz: number
  readonly pwmHz: number | null
  /** In the ripple band, see `addBandNoise`. */
  readonly signalToNoiseDb: number
  /** From here on the motor turns steadily … */
  readonly steadyFromSec: number
  /** … at this speed, in the mean. */
  readonly speedRadPerSec: number
  readonly backEmfConstantVsPerRad: number
  readonly resistanceOhm: number
  readonly ripplePeriods: number
}

const RPM = Math.PI / 30
/** Steps of the current's channel that are lost in the noise that is asked for. */
const SILENT_BITS = 24
const PWM_SHARE = 0.75
const RATES_HZ = [5e3, 10e3, 20e3, 50e3, 100e3, 200e3]

export interface RippleCaseChoices {
  readonly signalToNoiseDb: number
  readonly ripplePeriods: number
}

/**
 * A case of the target: 3 to 24 segments, one or two pole pairs, 200 to 20 000 rpm, linear supply or PWM of
 * 2 to 20 kHz, sampled at one of the usual rates from 5 to 200 kS/s that is at least 3 times the commutation
 * rate, 0 to 30 dB. The shaft runs free against friction: 80 ripple periods at 45 to 75 % of the speed, the step to the
 * full voltage, then 200 to 300 ripple periods of steady running.
 */
export function rippleCase(seed: number, choices: Partial<RippleCaseChoices> = {}): RippleCase {
  const uniform = seededUniform(seed * 7919 + 17)
  const between = (low: number, high: number) => low + (high - low) * uniform()
  const logBetween = (low: number, high: number) => low * (high / low) ** uniform()
  const segments = 3 + Math.floor(22 * uniform())
  const polePairs = segments >= 8 && uniform() < 0.3 ? 2 : 1
  const speed = logBetween(200, 20_000) * RPM
  const n = ripplesPerTurn(segments, polePairs)
  const commutationHz = (n * speed) / (2 * Math.PI)
  const rates = RATES_HZ.filter(rate => rate >= 3 * commutationHz && rate <= 2000 * commutationHz)
  const rateHz = rates[Math.floor(rates.length * uniform())]!
  const pwmHz = uniform() < PWM_SHARE ? logBetween(2e3, 20e3) : null
  const signalToNoiseDb = choices.signalToNoiseDb ?? between(0, 30)
  const instantaneous = uniform() < 0.5
  const periods = choices.ripplePeriods ?? Math.round(between(200, 300))
  const firstShare = between(0.45, 0.75)
  let volt = 0
  let ready: ReturnType<typeof quieten> = null
  while (ready === null) {
    const drawn = drawMotor(segments, polePairs, speed, uniform)
    volt = motorVolt(drawn, speed)
    ready = quieten(drawn, speed, volt, n, rateHz, signalToNoiseDb, seed)
  }
  const { motor, noiseAmp } = ready
  const plant = createPlant(motor, drawBench(motor, pwmHz, instantaneous), seed)
  const firstVolt = motorVolt(motor, firstShare * speed)
  plant.setShaft({ hold: 'driven', speedRadPerSec: firstShare * speed })
  plant.setBridge('drive', firstVolt)
  plant.advance(8 * electricalSec(motor), NO_GUARDS)
  plant.setShaft({ hold: 'free' })
  const settleSec = 9 * mechanicalSec(motor)
  const steadySec = periods / commutationHz
  const steps = [
    { setVolt: firstVolt, durationSec: 80 / (firstShare * commutationHz) },
    { setVolt: volt, durationSec: settleSec },
    { setVolt: volt, durationSec: steadySec },
  ]
  const parts = steps.map(step => {
    const before = plant.state()
    const recording = recordPractice(plant, [{ bridge: 'drive', ...step }], rateHz)
    return { before, recording, after: plant.state() }
  })
  const { before, after } = parts[2]!
  return {
    seed,
    run: {
      id: seed,
      kind: 'free-run',
      recording: withNoise(joined(parts.map(part => part.recording)), noiseAmp, seed),
      conditions: UNKNOWN_CONDITIONS,
    },
    motor,
    ripplesPerTurn: n,
    rateHz,
    pwmHz,
    signalToNoiseDb,
    steadyFromSec: before.timeSec - parts[0]!.before.timeSec,
    speedRadPerSec: (after.angleRad - before.angleRad) / (after.timeSec - before.timeSec),
    backEmfConstantVsPerRad:
      motor.magnet.backEmfConstantVsPerRad * (1 + motor.magnet.coefficientPerKelvin * 3),
    resistanceOhm: motor.winding.copperOhm + motor.brush.contactOhm,
    ripplePeriods: periods,
  }
}

/** The run as a scope with a current probe has it: no voltage, no word of the bridge. */
export function withCurrentAlone(run: TestRun): TestRun {
  const { recording } = run
  const columns = { current: recording.columns.current! }
  return { ...run, recording: { ...recording, columns, bridge: null, edges: [] } }
}

/** Recordings made one right after the other. */
function joined(recordings: readonly Recording[]): Recording {
  const first = recordings[0]!
  const ends = recordings.map((_, r) =>
    recordings.slice(0, r).reduce((sum, { timeSec }) => sum + timeSec!.at(-1)!, 0),
  )
  const join = (columnOf: (recording: Recording, r: number) => Iterable<number>) =>
    Float64Array.from(recordings.flatMap((recording, r) => [...columnOf(recording, r)]))
  return {
    ...first,
    sampleCount: recordings.reduce((sum, { sampleCount }) => sum + sampleCount, 0),
    timeSec: join(({ timeSec }, r) => timeSec!.map(time => time + ends[r]!)),
    columns: {
      voltage: join(({ columns }) => columns.voltage!),
      current: join(({ columns }) => columns.current!),
    },
    bridge: Uint8Array.from(recordings.flatMap(({ bridge }) => [...bridge!])),
    edges: recordings.flatMap(({ edges }, r) =>
      edges.map(edge => ({ ...edge, timeSec: edge.timeSec + ends[r]! })),
    ),
  }
}

const electricalSec = ({ winding, brush }: PracticeMotor) =>
  winding.inductanceHenry / (winding.copperOhm + brush.contactOhm)

const mechanicalSec = ({ winding, brush, magnet, inertiaKgM2 }: PracticeMotor) =>
  (inertiaKgM2 * (winding.copperOhm + brush.contactOhm)) / magnet.backEmfConstantVsPerRad ** 2

/** Voltage at which the motor runs free at about a speed. */
function motorVolt(motor: PracticeMotor, speed: number): number {
  const { winding, brush, magnet, friction } = motor
  const ohm = 1.05 * (winding.copperOhm + brush.contactOhm)
  const amp = friction.coulombNm / magnet.backEmfConstantVsPerRad
  const drop = brush.dropVolt * Math.tanh(amp / brush.kneeAmp)
  return magnet.backEmfConstantVsPerRad * speed + drop + ohm * amp
}

/**
 * The signal-to-noise ratio is that of the ripple band, from half to one and a half times the commutation rate:
 * mean square of the commutation's line, of a quiet contact behind a linear supply, over that of all noise in the
 * band, brush noise included. Brush noise may be half of it; the rest is white. Null where the brush is so wide
 * that the commutation's second line stands above its first: such a motor ripples at twice the rate.
 */
function quieten(
  motor: PracticeMotor,
  speed: number,
  volt: number,
  n: number,
  rateHz: number,
  signalToNoiseDb: number,
  seed: number,
): { motor: PracticeMotor; noiseAmp: number } | null {
  const commutationHz = (n * speed) / (2 * Math.PI)
  const settled = Math.ceil(8 * electricalSec(motor) * rateHz)
  const observe = (contactNoise: boolean) => {
    const switches = withImperfections(
      { ...REALISTIC, noiseScale: 0 },
      { contactNoise, quantisation: false, heating: false, supplyResistance: false },
    )
    const plant = createPlant(motor, drawBench(motor, null, false), seed, { switches })
    plant.setShaft({ hold: 'driven', speedRadPerSec: speed })
    const durationSec = settled / rateHz + Math.max(40, 4 * n) / commutationHz
    const step = { bridge: 'drive', setVolt: volt, durationSec } as const
    return recordPractice(plant, [step], rateHz).columns.current!.subarray(settled)
  }
  const quiet = observe(false)
  const line = (multiple: number) => lineMeanSquare(quiet, (multiple * commutationHz) / rateHz)
  const ripple = line(1)
  if (line(2) > 0.5 * ripple || line(3) > 0.5 * ripple) return null
  const rough = observe(true)
  const brushNoise = bandMeanSquare(
    rough.map((amp, i) => amp - quiet[i]!),
    commutationHz / 2 / rateHz,
    (1.5 * commutationHz) / rateHz,
  )
  const allowed = ripple / 10 ** (signalToNoiseDb / 10)
  const share = Math.min(1, Math.sqrt((0.5 * allowed) / brushNoise))
  const { brush } = motor
  const white = (allowed - share ** 2 * brushNoise) * (rateHz / 2 / commutationHz)
  return {
    motor: { ...motor, brush: { ...brush, contactNoiseOhm: share * brush.contactNoiseOhm } },
    noiseAmp: Math.sqrt(white),
  }
}

/** Mean square of the sinusoid of so many periods a sample, under a Hann window. */
function lineMeanSquare(values: Float64Array, periodsPerSample: number): number {
  if (periodsPerSample > 0.49) return 0
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length
  const window = windowOf('hann', values.length)
  let [re, im, weights] = [0, 0, 0]
  for (const [i, weight] of window.entries()) {
    const angle = 2 * Math.PI * periodsPerSample * i
    re += weight * (values[i]! - mean) * Math.cos(angle)
    im += weight * (values[i]! - mean) * Math.sin(angle)
    weights += weight
  }
  return (2 * (re * re + im * im)) / (weights * weights)
}

/** Mean square of what a signal has between two frequencies, in periods a sample (Hann window). */
function bandMeanSquare(values: Float64Array, low: number, high: number): number {
  const size = 2 ** Math.floor(Math.log2(values.length))
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length
  const window = windowOf('hann', size)
  const [re, im] = fft(window.map((w, i) => w * (values[i]! - mean)))
  const squares = window.reduce((sum, w) => sum + w * w, 0)
  let sum = 0
  for (let b = Math.ceil(low * size); b <= high * size && b < size / 2; b++) {
    sum += re[b]! ** 2 + im[b]! ** 2
  }
  return (2 * sum) / size / squares
}

function drawMotor(
  segments: number,
  polePairs: number,
  speed: number,
  uniform: Uniform,
): PracticeMotor {
  const logBetween = (low: number, high: number) => low * (high / low) ** uniform()
  const base = practiceMotor('fennimore-24')
  const volt = logBetween(6, 48)
  const k = (0.85 * volt) / speed
  const stallAmp = logBetween(1, 60)
  const ohm = volt / stallAmp
  const ratedAmp = 0.2 * stallAmp
  const electricalSec = logBetween(1e-4, 1.5e-3)
  const widest = segments / (2 * polePairs) - 1.08
  const friction = k * ratedAmp * 0.15
  return {
    ...base,
    rating: {
      ...base.rating,
      voltageVolt: volt,
      currentAmp: ratedAmp,
      speedLimitRadPerSec: 1.3 * speed,
    },
    winding: {
      segments,
      polePairs,
      copperOhm: 0.95 * ohm,
      inductanceHenry: electricalSec * ohm,
      coilUnevenness: logBetween(0.002, 0.012),
      segmentUnevenness: logBetween(0.003, 0.015),
      patternSeed: Math.floor(1e6 * uniform()),
    },
    magnet: {
      ...base.magnet,
      backEmfConstantVsPerRad: k,
      flatness: 0.08 * uniform(),
      rippleShare: 0.4 + 0.6 * uniform(),
    },
    brush: {
      ...base.brush,
      dropVolt: 0.03 * volt * uniform(),
      kneeAmp: 0.02 * ratedAmp,
      contactOhm: 0.05 * ohm,
      contactNoiseOhm: 0.01 * ohm * uniform(),
      shortingShare: 0.3 + 0.5 * uniform(),
      widthSegments: Math.min(widest, 0.3 + 0.8 * uniform()),
    },
    friction: {
      ...base.friction,
      coulombNm: friction,
      staticNm: 1.2 * friction,
      viscousNmsPerRad: 0,
      windageNms2PerRad2: 0,
      directionShare: 0,
      bumps: [{ angleRad: 1 + uniform(), widthRad: 1.2, torqueNm: 0.2 * friction * uniform() }],
    },
    cogging: {
      periodsPerTurn: 2 * polePairs * (uniform() < 0.5 ? segments : 1),
      amplitudeNm: 0.2 * friction * uniform(),
    },
    // Mechanical time constant of 10 to 80 ms.
    inertiaKgM2: (logBetween(0.01, 0.08) * k * k) / ohm,
  }
}

function drawBench(
  motor: PracticeMotor,
  pwmHz: number | null,
  instantaneous: boolean,
): PracticeBench {
  const bench = defaultBench(motor, {
    bridge: pwmHz === null ? 'linear' : 'pwm',
    pwmHz: pwmHz ?? 20_000,
  })
  return {
    ...bench,
    channels: bench.channels
      .filter(channel => channel.quantity !== 'speed')
      .map(channel => (instantaneous ? { ...channel, apertureSec: 0 } : channel))
      // All noise of the current is what the signal-to-noise ratio says.
      .map(channel =>
        channel.quantity === 'current' ? { ...channel, noise: 0, bits: SILENT_BITS } : channel,
      ),
  }
}

function withNoise(recording: Recording, noiseAmp: number, seed: number): Recording {
  const normal = seededNormal(seededUniform(seed * 31 + 5))
  const traits = recording.traits.current!
  return {
    ...recording,
    columns: {
      ...recording.columns,
      current: recording.columns.current!.map(amp => amp + noiseAmp * normal()),
    },
    traits: {
      ...recording.traits,
      current: {
        ...traits,
        noise: Math.hypot(traits.noise ?? 0, noiseAmp),
        rangeLow: null,
        rangeHigh: null,
      },
    },
  }
}
