import type { Calibration } from '../records/calibration.ts'
import type { Channel } from '../records/channel.ts'
import type { ChannelTraits } from '../records/recording.ts'

/** The part of a calibration that acts on readings. */
export type CalibrationLine = Pick<
  Calibration,
  'gain' | 'zero' | 'gainUncertainty' | 'zeroUncertainty'
>

/** value in SI = factor × counts + offset. */
export interface CountsToSi {
  readonly factor: number
  readonly offset: number
}

/**
 * From raw counts to the true quantity in SI in one step:
 *   true = gain × ((scale × counts + offset) − zero)
 * Without a calibration the rig's own declaration stands (gain 1, zero 0).
 */
export function countsToSi(channel: Channel, calibration: CalibrationLine | null): CountsToSi {
  const gain = calibration?.gain ?? 1
  const zero = calibration?.zero ?? 0
  return { factor: gain * channel.scale, offset: gain * (channel.offset - zero) }
}

/** Writes `counts[from]` up to `counts[to]` as SI values to `into`, from position `at` on. */
export function calibrate(
  counts: ArrayLike<number>,
  from: number,
  to: number,
  { factor, offset }: CountsToSi,
  into: Float64Array,
  at = 0,
): void {
  for (let i = from; i < to; i++) into[at + i - from] = factor * counts[i]! + offset
}

/**
 * The channel's traits in calibrated SI: noise, step and range go through the gain; the uncertainties of
 * gain and zero are those of the calibration, where there is one, instead of what the rig declared.
 * A channel that declares no step has that of one count.
 */
export function calibratedTraits(
  channel: Channel,
  calibration: CalibrationLine | null,
): ChannelTraits {
  const { traits } = channel
  const gain = calibration?.gain ?? 1
  const zero = calibration?.zero ?? 0
  const through = (value: number | null) => (value === null ? null : gain * (value - zero))
  const [low, high] = [through(traits.rangeLow), through(traits.rangeHigh)]
  return {
    ...traits,
    noise: traits.noise === null ? null : Math.abs(gain) * traits.noise,
    resolution: Math.abs(gain * (traits.resolution ?? channel.scale)),
    rangeLow: gain < 0 ? high : low,
    rangeHigh: gain < 0 ? low : high,
    gainUncertainty: calibration?.gainUncertainty ?? traits.gainUncertainty,
    zeroUncertainty: calibration
      ? Math.abs(gain) * calibration.zeroUncertainty
      : traits.zeroUncertainty,
  }
}
