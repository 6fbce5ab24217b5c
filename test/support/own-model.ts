import { seededNormal, seededUniform } from '../../src/base/random.ts'
import { prepareRun } from '../../src/identify/prepare/prepare-run.ts'
import type { ModelPoint } from '../../src/motor/parameters.ts'
import { PHASE } from '../../src/motor/prepared-run.ts'
import { RunObserver } from '../../src/motor/run-observer.ts'
import {
  BRIDGE,
  type BridgeEdge,
  type ChannelTraits,
  PLAIN_TRAITS,
  type Recording,
} from '../../src/records/recording.ts'
import type { TestKind } from '../../src/records/test-kind.ts'
import {
  type TestConditions,
  type TestRun,
  UNKNOWN_CONDITIONS,
} from '../../src/records/test-run.ts'
import { readSignals } from '../../src/signals/run-signals.ts'

/** One stretch of a script: what the bridge does, for how long. */
export interface ScriptStep {
  readonly bridge: 'drive' | 'coast' | 'brake'
  readonly volt: number
  readonly sec: number
}

export interface ChannelNoise {
  readonly voltage: number
  readonly current: number
  readonly speed: number
}

export interface OwnModelChoices {
  readonly rateHz: number
  /** Readings are means over the sample period, or moments. */
  readonly aperture: 'period' | 'moment'
  readonly noise: ChannelNoise
  readonly seed: number
  readonly conditions: Partial<TestConditions>
  readonly logEdges: boolean
  readonly referenceCelsius: number
}

export const drive = (volt: number, sec: number): ScriptStep => ({ bridge: 'drive', volt, sec })
export const coast = (sec: number): ScriptStep => ({ bridge: 'coast', volt: 0, sec })
export const brake = (sec: number): ScriptStep => ({ bridge: 'brake', volt: 0, sec })

/**
 * A run of exactly the model that the fit assumes, with white noise on every channel: what its
 * statistical claims are checked on. Physics that the fit does not know is the practice rig's part.
 */
export function ownModelRun(
  id: number,
  kind: TestKind,
  motor: ModelPoint,
  script: readonly ScriptStep[],
  choices: Partial<OwnModelChoices> = {},
): TestRun {
  const rateHz = choices.rateHz ?? 5000
  const period = 1 / rateHz
  const aperture = choices.aperture === 'moment' ? 0 : period
  const total = script.reduce((sum, step) => sum + step.sec, 0)
  const n = Math.floor(total * rateHz + 1e-6) + 1
  const time = Float64Array.from({ length: n }, (_, k) => k * period)
  const edges: BridgeEdge[] = []
  let at = 0
  for (const step of script) {
    edges.push({ timeSec: at, state: step.bridge, setVolt: step.volt })
    at += step.sec
  }
  const stateAt = (t: number) => {
    let found = edges[0]!
    for (const edge of edges) if (edge.timeSec < t - 1e-12) found = edge
    return found
  }
  const bridge = Uint8Array.from(time, t => BRIDGE[stateAt(t).state])
  const voltage = Float64Array.from(time, t => meanVoltage(edges, t - aperture, t))
  const traits = (noise: number): ChannelTraits => ({
    ...PLAIN_TRAITS,
    noise,
    apertureSec: aperture,
  })
  const noise = choices.noise ?? { voltage: 0, current: 0, speed: 0 }
  const recording: Recording = {
    sampleCount: n,
    timeSec: time,
    columns: { voltage, current: new Float64Array(n), speed: new Float64Array(n) },
    bridge,
    edges: edges.slice(1),
    traits: {
      voltage: traits(noise.voltage),
      current: traits(noise.current),
      speed: traits(noise.speed),
    },
  }
  const conditions = { ...UNKNOWN_CONDITIONS, ...choices.conditions }
  const run: TestRun = { id, kind, recording, conditions }
  const referenceCelsius = choices.referenceCelsius ?? 20
  const prepared = prepareRun(readSignals(run), { merge: false, referenceCelsius })
  const observer = new RunObserver(
    prepared,
    { coordinates: [], tied: true },
    { referenceCelsius, magnetPerKelvin: 0 },
  )
  observer.evaluate(motor, { slopes: false, clip: Number.POSITIVE_INFINITY, cells: false })
  const current = new Float64Array(n)
  const speed = new Float64Array(n)
  for (let k = 0; k < prepared.stepCount; k++) {
    const sample = prepared.sampleOf[k]!
    // The part of a period before an edge has no reading of its own.
    if (prepared.sampleOf[k + 1] === sample) continue
    const open = prepared.phase[k] === PHASE.open || prepared.phase[k] === PHASE.blank
    if (open) voltage[sample] = observer.predictions[2 * k]!
    current[sample] = open ? 0 : observer.predictions[2 * k]!
    speed[sample] = observer.predictions[2 * k + 1]!
  }
  const normal = seededNormal(seededUniform(choices.seed ?? 1))
  for (let k = 0; k < n; k++) {
    voltage[k]! += noise.voltage * normal()
    current[k]! += noise.current * normal()
    speed[k]! += noise.speed * normal()
  }
  const logged = choices.logEdges ?? true
  return {
    ...run,
    recording: {
      ...recording,
      columns: { voltage, current, speed },
      edges: logged ? recording.edges : [],
    },
  }
}

/** Mean of the script's voltage between two times, or its value just before `to`. */
function meanVoltage(edges: readonly BridgeEdge[], from: number, to: number): number {
  let sum = 0
  edges.forEach((edge, e) => {
    const start = Math.max(e === 0 ? Number.NEGATIVE_INFINITY : edge.timeSec, from)
    const end = Math.min(edges[e + 1]?.timeSec ?? Number.POSITIVE_INFINITY, to)
    if (to > from && end > start) sum += ((end - start) / (to - from)) * edge.setVolt!
    else if (to === from && edge.timeSec < to - 1e-12) sum = edge.setVolt!
  })
  return sum
}
