import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { ripplesPerTurn } from '../../src/practice-rig/commutator.ts'
import { PLAIN_TRAITS } from '../../src/records/recording.ts'
import { type TestRun, UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'

/** A measurement whose current is a sum of lines of the shaft, and what is true of it. */
export interface LineSumCase {
  readonly seed: number
  readonly run: TestRun
  readonly ripplesPerTurn: number
  readonly polePairs: number
  readonly rateHz: number
  /** Of the bridge; null where nothing switches. */
  readonly pwmHz: number | null
  /** Stated by the rig where the voltage is a mean that does not show it. */
  readonly statedSwitchingHz: number | null
  /** From here on the speed stands. */
  readonly steadyFromSec: number
  /** In the mean from there on. */
  readonly speedRadPerSec: number
  readonly backEmfConstantVsPerRad: number
  readonly resistanceOhm: number
}

const RPM = Math.PI / 30
const RATES_HZ = [5e3, 10e3, 20e3, 50e3, 100e3, 200e3]
/** Speed at first over that in the end: a start from rest, a steady speed, a step up and one down. */
const COURSES = [
  { before: 0, isStep: false },
  { before: 1, isStep: false },
  { before: 0.6, isStep: true },
  { before: 1.35, isStep: true },
] as const
/** Ripples at the speed before a step up; before one down it lasts as long. */
const RIPPLES_BEFORE = 80
const SLOWEST_BEFORE = 0.6
/** Time constants after which the speed counts as steady. */
const SETTLING = 6
/** Moments a sample; a mean reading is the mean of them, another one the last. */
const MOMENTS = 8

/**
 * Ripple that owes nothing to the practice rig's winding: four multiples of the commutation with random phases, lines at once and
 * twice a turn as tall as it is or taller, some more, hum, triangular current of the bridge's pulses, white noise of 0 to 30 dB below
 * the commutation's line in the ripple band. 3 to 24 segments, 300 to 15 000 rpm, 200 to 300 ripples of steady running.
 *
 * @param ripple 0: all but the shaft's lines
 */
export function lineSumCase(seed: number, ripple: 0 | 1 = 1): LineSumCase {
  const uniform = seededUniform(seed * 104_729 + 7)
  const normal = seededNormal(seededUniform(seed * 31 + 11))
  const between = (low: number, high: number) => low + (high - low) * uniform()
  const logBetween = (low: number, high: number) => low * (high / low) ** uniform()
  const phase = () => 2 * Math.PI * uniform()
  const segments = 3 + Math.floor(22 * uniform())
  const polePairs = segments >= 8 && uniform() < 0.25 ? 2 : 1
  const n = ripplesPerTurn(segments, polePairs)
  const speed = logBetween(300, 15_000) * RPM
  const commutationHz = (n * speed) / (2 * Math.PI)
  const rates = RATES_HZ.filter(rate => rate >= 4 * commutationHz && rate <= 500 * commutationHz)
  const rateHz = rates[Math.floor(rates.length * uniform())]!
  const volt = logBetween(6, 36)
  const k = (0.9 * volt) / speed
  const ohm = volt / logBetween(2, 50)
  const noiseShare = 10 ** (-between(0, 30) / 20)

  const { before, isStep } = COURSES[seed % COURSES.length]!
  const slowSec = logBetween(0.02, 0.15)
  const stepSec = isStep ? RIPPLES_BEFORE / commutationHz / SLOWEST_BEFORE : 0
  const steadyFromSec = before === 1 ? 0 : stepSec + SETTLING * slowSec
  const shareAt = (sec: number) =>
    sec < stepSec ? before : 1 - (1 - before) * Math.exp(-(sec - stepSec) / slowSec)
  const voltAt = (sec: number) => (sec < stepSec ? k * before * speed + (volt - k * speed) : volt)

  const amplitude = ((k * speed) / ohm) * logBetween(0.002, 0.03)
  const multiples = [1, logBetween(0.08, 0.45), logBetween(0.03, 0.25), logBetween(0.01, 0.12)]
  const stride = 2 * polePairs
  const lines = [
    ...multiples.map((share, m) => ({ order: (m + 1) * n, share, phase: phase() })),
    ...[
      [1, 1.5],
      [2, 1.5],
      [stride, 1],
      [2 * stride, 0.3],
      [segments, 0.3],
      [n - stride, 0.2],
      [n + stride, 0.2],
    ].map(([order, most]) => ({
      order: order!,
      share: logBetween(0.04, most!),
      phase: phase(),
    })),
  ]
  const humAmp = uniform() < 0.4 ? amplitude * logBetween(0.05, 0.5) : 0
  const pwmHz = uniform() < 0.6 ? logBetween(2e3, 20e3) : null
  const pulseAmp = pwmHz === null ? 0 : ((volt - k * speed) / ohm) * logBetween(0.15, 3)
  const duty = between(0.4, 0.9)
  const isMean = uniform() < 0.5
  const noiseAmp = noiseShare * (amplitude / Math.SQRT2) * Math.sqrt(rateHz / 2 / commutationHz)

  const endSec = steadyFromSec + between(200, 300) / commutationHz
  const count = Math.round(endSec * rateHz)
  const columns = { current: new Float64Array(count), voltage: new Float64Array(count) }
  const stepAngle = speed / rateHz / MOMENTS
  let angle = phase()
  let steadyAngle = 0
  let steadyMoments = 0
  for (let i = 0; i < count; i++) {
    let [amps, volts] = [0, 0]
    for (let moment = 1; moment <= MOMENTS; moment++) {
      const sec = (i + moment / MOMENTS) / rateHz
      const share = shareAt(sec)
      angle += share * stepAngle
      if (sec > steadyFromSec) {
        steadyAngle += share * stepAngle
        steadyMoments++
      }
      let amp = (voltAt(sec) - k * share * speed) / ohm + humAmp * Math.sin(200 * Math.PI * sec)
      for (const line of lines) {
        amp += ripple * amplitude * share * line.share * Math.cos(line.order * angle + line.phase)
      }
      let applied = voltAt(sec)
      if (pwmHz !== null) {
        const at = (sec * pwmHz) % 1
        amp += pulseAmp * (at < duty ? at / duty - 0.5 : 0.5 - (at - duty) / (1 - duty))
        if (!isMean) applied = at < duty ? applied / duty : 0
      }
      if (isMean || moment === MOMENTS) {
        const weight = isMean ? 1 / MOMENTS : 1
        amps += weight * amp
        volts += weight * applied
      }
    }
    columns.current[i] = amps + noiseAmp * normal()
    columns.voltage[i] = volts + 1e-3 * volt * normal()
  }
  const traits = { ...PLAIN_TRAITS, apertureSec: isMean ? 1 / rateHz : 0 }
  return {
    seed,
    run: {
      id: seed,
      kind: 'free-run',
      recording: {
        sampleCount: count,
        timeSec: Float64Array.from({ length: count }, (_, i) => (i + 1) / rateHz),
        columns,
        bridge: null,
        edges: [],
        traits: { current: traits, voltage: traits },
      },
      conditions: UNKNOWN_CONDITIONS,
    },
    ripplesPerTurn: n,
    polePairs,
    rateHz,
    pwmHz,
    statedSwitchingHz: pwmHz !== null && isMean ? pwmHz * between(0.99, 1.01) : null,
    steadyFromSec,
    speedRadPerSec: (steadyAngle / steadyMoments) * MOMENTS * rateHz,
    backEmfConstantVsPerRad: k,
    resistanceOhm: ohm * between(0.9, 1.1),
  }
}
