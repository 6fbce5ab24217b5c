import { seededNormal, seededUniform } from '../base/random.ts'
import { type ChannelDeclaration, countBounds } from '../protocol/channel.ts'
import type { PracticeBench, PracticeChannel } from './bench.ts'
import type { PracticeSwitches } from './imperfections.ts'

/** One piece of a channel: its calibration error for good, and the source of its noise. */
export interface SensorPiece {
  readonly gain: number
  readonly zero: number
  readonly normal: () => number
}

/** Turns a true value into counts. */
export interface Sensor {
  readonly declaration: ChannelDeclaration
  /** `value` in SI; whole counts where the channel runs round. */
  read(value: number): number
}

/** Codes of a channel whose quantisation is turned off: too fine and too many to be noticed. */
const IDEAL_BITS = 30

/** `benchSeed` draws the calibration errors, `seed` the noise. */
export function drawSensorPieces(
  bench: PracticeBench,
  switches: PracticeSwitches,
  benchSeed: number,
  seed: number,
): SensorPiece[] {
  const error = seededNormal(seededUniform(benchSeed * 31 + 11))
  return bench.channels.map((channel, index) => {
    const gain = channel.gainUncertainty * error()
    const zero = channel.zeroUncertainty * error()
    const on = switches.imperfections.calibration
    return {
      gain: on ? 1 + gain : 1,
      zero: on ? zero : 0,
      normal: seededNormal(seededUniform(seed * 31 + 101 + index)),
    }
  })
}

export function createSensor(
  channel: PracticeChannel,
  index: number,
  piece: SensorPiece,
  switches: PracticeSwitches,
  apertureSec: number,
): Sensor {
  const on = switches.imperfections
  const { gain, zero, normal } = piece
  const noise = channel.noise * switches.noiseScale
  const modulo = channel.quantity === 'position' && channel.encoder !== null
  const kind = modulo ? 'modulo' : channel.unipolar ? 'unsigned' : 'signed'
  const bits = modulo ? 16 : on.quantisation ? channel.bits : IDEAL_BITS
  const { low, high } = countBounds(kind, bits)
  const offset = channel.originSI
  const scale = modulo
    ? (2 * Math.PI) / channel.encoder!.countsPerTurn
    : (channel.fullScale * (channel.unipolar ? 1 : 2)) / 2 ** bits

  return {
    declaration: {
      index,
      name: channel.name,
      quantity: channel.quantity,
      scale,
      offset,
      kind,
      bits,
      lowCount: low,
      highCount: high,
      noise: modulo ? 0 : noise,
      apertureSec,
      delaySec: channel.delaySec,
      gainUncertainty: on.calibration ? channel.gainUncertainty : 0,
      zeroUncertainty: on.calibration ? channel.zeroUncertainty : 0,
    },
    read(value) {
      if (modulo) return value - 65536 * Math.floor(value / 65536)
      const code = Math.round((gain * value + zero + noise * normal() - offset) / scale)
      return Math.min(high, Math.max(low, code))
    },
  }
}
