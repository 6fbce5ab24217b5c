import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { PLAIN_TRAITS } from '../../src/records/recording.ts'
import { type TestRun, UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'

/** What a scope with a current probe shows of a motor on a battery at one speed. */
export interface PlainSteadyCase {
  readonly seed: number
  readonly run: TestRun
  readonly ripplesPerTurn: number
  readonly speedRadPerSec: number
}

const SECOND_LINE = 0.25
const RATES_HZ = [5e3, 10e3, 20e3, 50e3, 100e3]

/**
 * A commutation as tall as 1 and its second line, the winding's unevenness once and twice a turn, white noise of 0 to 10 dB below
 * the commutation in the ripple band, 200 to 300 ripples of 3 to 24 segments at 600 to 12 000 rpm, no bridge.
 *
 * @param ripple 0: noise and the mean alone
 * @param onceATurn amplitude of that line, where it is not drawn
 */
export function plainSteadyCase(
  seed: number,
  ripple: 0 | 1 = 1,
  onceATurn: number | null = null,
): PlainSteadyCase {
  const uniform = seededUniform(seed * 15_485_863 + 3)
  const normal = seededNormal(seededUniform(seed * 32_452_843 + 5))
  const between = (low: number, high: number) => low + (high - low) * uniform()
  const segments = 3 + Math.floor(22 * uniform())
  const ripplesPerTurn = segments % 2 === 0 ? segments : 2 * segments
  const turnsPerSec = 10 * 20 ** uniform()
  const commutationHz = ripplesPerTurn * turnsPerSec
  const rates = RATES_HZ.filter(rate => rate > 5 * commutationHz && rate < 300 * commutationHz)
  const rateHz = rates[Math.floor(rates.length * uniform())]!
  const drawn = between(0.15, 0.5)
  const lines = [
    { order: ripplesPerTurn, amplitude: 1 },
    { order: 2 * ripplesPerTurn, amplitude: SECOND_LINE },
    { order: 1, amplitude: onceATurn ?? drawn },
    { order: 2, amplitude: between(0.15, 0.5) },
  ].map(line => ({ ...line, phase: 2 * Math.PI * uniform() }))
  const sigma = Math.sqrt((0.5 * 10 ** -between(0, 1) * rateHz) / 2 / commutationHz)
  const sampleCount = Math.round((between(200, 300) * rateHz) / commutationHz)
  const timeSec = Float64Array.from({ length: sampleCount }, (_, i) => (i + 1) / rateHz)
  const current = timeSec.map(sec => {
    let amp = 20 + sigma * normal()
    for (const { order, amplitude, phase } of lines) {
      amp += ripple * amplitude * Math.cos(2 * Math.PI * order * turnsPerSec * sec + phase)
    }
    return amp
  })
  return {
    seed,
    run: {
      id: seed,
      kind: 'free-run',
      recording: {
        sampleCount,
        timeSec,
        columns: { current },
        bridge: null,
        edges: [],
        traits: { current: PLAIN_TRAITS },
      },
      conditions: UNKNOWN_CONDITIONS,
    },
    ripplesPerTurn,
    speedRadPerSec: 2 * Math.PI * turnsPerSec,
  }
}
