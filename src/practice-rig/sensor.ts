import { seededNormal, seededUniform } from '../base/random.ts'
import { type ChannelDeclaration, countBounds } from '../protocol/channel.ts'
import type { PracticeChannel } from './bench.ts'
import type { PracticeSwitches } from './imperfections.ts'

/** Turns a true value into counts, with this specimen's calibration error and noise. */
export interface Sensor {
  readonly declaration: ChannelDeclaration
  /** `value` in SI; whole counts where the channel runs round. */
  read(value: number): number
}

/** Codes of a channel whose quantisation is turned off: too fine and too many to be noticed. */
const IDEAL_BITS = 30

export function createSensor(
  channel: PracticeChannel,
  index: number,
  switches: PracticeSwitches,
  seed: number,
  apertureSec: number,
): Sensor {
  const on = switches.imperfections
  const normal = seededNormal(seededUniform(seed))
  const gain = 1 + (on.calibration ? channel.gainUncertainty * normal() : 0)
  const zero = on.calibration ? channel.zeroUncertainty * normal() : 0
  const noise = channel.noise * switches.noiseScale

  const modulo = channel.quantity === 'position' && channel.encoder !== null
  const kind = modulo ? 'modulo' : channel.unipolar ? 'unsigned' : 'signed'
  const bits = modulo ? 16 : on.quantisation ? channel.bits : IDEAL_BITS
  const { low, high } = countBounds(kind, bits)
  const scale = modulo
    ? (2 * Math.PI) / channel.encoder!.countsPerTurn
    : (channel.fullScale * (channel.unipolar ? 1 : 2)) / 2 ** bits

  return {
    declaration: {
      index,
      name: channel.name,
      quantity: channel.quantity,
      scale,
      offset: channel.originSI,
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
      const code = Math.round((gain * value + zero + noise * normal() - channel.originSI) / scale)
      return code > high ? high : code < low ? low : code
    },
  }
}
