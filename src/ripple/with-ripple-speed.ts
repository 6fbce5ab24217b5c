import { failure, type Result, success } from '../base/result.ts'
import type { Quantity } from '../records/quantity.ts'
import { BRIDGE, type ChannelTraits, PLAIN_TRAITS, type Recording } from '../records/recording.ts'
import type { TestRun } from '../records/test-run.ts'
import { readSignals, type ZeroOffsets } from '../signals/run-signals.ts'
import { quantileOf } from '../statistics/robust.ts'
import type { RippleFault } from './ripple-fault.ts'
import type { RippleSettings } from './ripple-settings.ts'
import { type RippleTrack, trackRipple } from './track-ripple.ts'
import { trackWarnings } from './track-warnings.ts'

export interface RunWithSpeed {
  readonly run: TestRun
  readonly track: RippleTrack
  readonly warnings: readonly { readonly code: string; readonly text: string }[]
}

/** Rows are no closer than this … */
const LEAST_ROW_SEC = 1e-4
/** … nor so close that a reading's window holds more of them than this. */
const MOST_ROWS_A_WINDOW = 200
/** lcm(N, 2p) of 200 segments and three pole pairs. */
const MOST_RIPPLES = 1200

/**
 * A run with a speed channel from its ripple, like any other: each reading is the mean speed over the window that ends at
 * its time stamp, its noise is stated, and where the shaft could not be followed there is a gap. Samples much closer than
 * the windows are averaged to rows. A speed channel that was there is replaced.
 *
 * The readings of neighbouring rows share most of their windows; the noise is stated such that a whole window of rows,
 * taken as independent, knows its mean speed as well as the ripple told it.
 */
export function withRippleSpeed(
  run: TestRun,
  settings: RippleSettings,
  zeros: ZeroOffsets = {},
): Result<RunWithSpeed, RippleFault> {
  if (settings.ripplesPerTurn === null) {
    return failure({
      code: 'bad-count',
      text: 'the number of ripples a turn is not known: a speed would be a guess',
    })
  }
  const { ripplesPerTurn } = settings
  if (!Number.isInteger(ripplesPerTurn) || ripplesPerTurn < 2 || ripplesPerTurn > MOST_RIPPLES) {
    return failure({
      code: 'bad-count',
      text: `ripples a turn = ${ripplesPerTurn}; must be a whole number from 2 to ${MOST_RIPPLES}`,
    })
  }
  const signals = readSignals(run, zeros)
  const tracked = trackRipple(signals, settings)
  if (!tracked.ok) return tracked
  const track = tracked.value
  const windowSamples = usualWindow(track)
  const rowSamples = Math.max(
    1,
    Math.round(LEAST_ROW_SEC * track.rateHz),
    Math.ceil(windowSamples / MOST_ROWS_A_WINDOW),
  )
  const { speed: _, ...columns } = run.recording.columns
  const rows = toRows({ ...run.recording, columns }, rowSamples, track.rateHz)
  const apertureSec = windowSamples / track.rateHz
  const rowSec = rowSamples / track.rateHz
  const speed = speedColumn(track, rows.timeSec!, apertureSec)
  const traits: ChannelTraits = {
    ...PLAIN_TRAITS,
    noise: windowNoise(track, apertureSec) * Math.sqrt(Math.max(1, apertureSec / rowSec)),
    apertureSec,
  }
  return success({
    run: {
      ...run,
      recording: {
        ...rows,
        columns: { ...rows.columns, speed },
        traits: { ...rows.traits, speed: traits },
      },
    },
    track,
    warnings: warningsOf(track, speed),
  })
}

/** Samples of an independent reading of the angle, of the stretches weighted by their length. */
function usualWindow({ stretches }: RippleTrack): number {
  const weighted = stretches.flatMap(({ windowSamples, turns }) =>
    new Array<number>(Math.max(1, Math.round(turns.length / windowSamples))).fill(windowSamples),
  )
  return Math.round(quantileOf(weighted, 0.5))
}

/** Standard uncertainty of a mean speed over one window, rad/s. */
function windowNoise({ stretches }: RippleTrack, apertureSec: number): number {
  const total = stretches.reduce((sum, { turns }) => sum + turns.length, 0)
  const square = stretches.reduce(
    (sum, { turns, angleUncertainty }) => sum + (turns.length / total) * angleUncertainty ** 2,
    0,
  )
  return (2 * Math.PI * Math.sqrt(2 * square)) / apertureSec
}

function speedColumn(track: RippleTrack, timeSec: Float64Array, apertureSec: number): Float64Array {
  const speed = new Float64Array(timeSec.length).fill(Number.NaN)
  const toSample = (sec: number) => (sec - track.firstSec) * track.rateHz
  const window = apertureSec * track.rateHz
  for (const { start, end, turns, sign } of track.stretches) {
    const angleAt = (sample: number) => {
      const place = sample - start
      const below = Math.min(turns.length - 1, Math.floor(place))
      const above = Math.min(turns.length - 1, below + 1)
      return turns[below]! + (place - below) * (turns[above]! - turns[below]!)
    }
    for (let k = 0; k < timeSec.length; k++) {
      const late = toSample(timeSec[k]!)
      const early = late - window
      if (early < start || late > end) continue
      speed[k] = (sign * 2 * Math.PI * (angleAt(late) - angleAt(early))) / apertureSec
    }
  }
  return speed
}

/** Means over so many samples; each row bears the time stamp of its last sample. */
function toRows(recording: Recording, rowSamples: number, rateHz: number): Recording {
  if (rowSamples === 1) return recording
  const count = Math.floor(recording.sampleCount / rowSamples)
  const lastOf = (row: number) => (row + 1) * rowSamples - 1
  const columns: Partial<Record<Quantity, Float64Array>> = {}
  const traits: Partial<Record<Quantity, ChannelTraits>> = {}
  for (const [name, column] of Object.entries(recording.columns) as [Quantity, Float64Array][]) {
    const counted = name === 'position'
    columns[name] = Float64Array.from({ length: count }, (_, row) =>
      counted ? column[lastOf(row)]! : meanOf(column, row * rowSamples, rowSamples),
    )
    const own = recording.traits[name]
    if (own === undefined) continue
    const apertureSec = Math.max(own.apertureSec, 1 / rateHz) + (rowSamples - 1) / rateHz
    traits[name] = counted
      ? own
      : {
          ...own,
          noise: own.noise === null ? null : own.noise / Math.sqrt(rowSamples),
          apertureSec,
        }
  }
  const pick = (row: number) => recording.timeSec![lastOf(row)]!
  return {
    ...recording,
    sampleCount: count,
    timeSec: Float64Array.from({ length: count }, (_, row) => pick(row)),
    columns,
    bridge:
      recording.bridge &&
      Uint8Array.from(
        { length: count },
        (_, row) => recording.bridge![lastOf(row)] ?? BRIDGE.unknown,
      ),
    traits,
  }
}

/** NaN where more than half is missing. */
function meanOf(column: Float64Array, from: number, length: number): number {
  let sum = 0
  let count = 0
  for (let i = from; i < from + length; i++) {
    if (Number.isNaN(column[i]!)) continue
    sum += column[i]!
    count++
  }
  return 2 * count >= length ? sum / count : Number.NaN
}

function warningsOf(track: RippleTrack, speed: Float64Array) {
  const known = speed.reduce((sum, value) => sum + (Number.isNaN(value) ? 0 : 1), 0)
  const share = known / speed.length
  return [
    {
      code: 'speed-from-ripple',
      text: `speed from the ripple at ${track.comb.ripplesPerTurn} ripples a turn, over ${(100 * share).toFixed(0)} % of the record; the rest (standstill, reversals, switching edges) is a gap`,
    },
    ...trackWarnings(track),
  ]
}
