import { resistanceRatio } from '../motor/winding-temperature.ts'
import type { HeatBlock } from './heat-blocks.ts'
import { advanceTemperatures, type Temperatures, type TwoMass } from './two-mass.ts'

/** What the course of a heating run follows from. */
export interface HeatModel extends TwoMass {
  /** Winding, brushes and leads at the start, without what the brush drop adds. */
  readonly startOhm: number
  /** Share of it that does not warm with the winding: brushes, leads. */
  readonly steadyShare: number
  readonly brushDropVolt: number
  /** The drop is V_b tanh(i/I_b). */
  readonly brushKneeAmp: number
  /** For stretches in which the shaft turns. */
  readonly backEmfVsPerRad: number
}

export interface HeatStart {
  readonly startCelsius: number
}

export interface HeatCourse {
  /** v/|i| as it should be read in each block that has a reading. */
  readonly ohm: Float64Array
  /** Temperatures at those moments. */
  readonly winding: Float64Array
  readonly housing: Float64Array
  /** Housing at the end of every block, for what is read while the shaft turns. */
  readonly housingAfter: Float64Array
}

/** Copper of the winding at a temperature. */
export const copperOhm = (model: HeatModel, startCelsius: number, celsius: number): number =>
  (1 - model.steadyShare) * model.startOhm * resistanceRatio(celsius, startCelsius)

/**
 * Plays a run: everything at the start temperature, then block by block with the heat of each spread evenly
 * over it. Copper loss goes into the winding, that of brushes and friction into the housing. Where the shaft
 * turns, copper loss is i² R at the temperature the winding has by then.
 */
export function playHeat(
  blocks: readonly HeatBlock[],
  model: HeatModel,
  { startCelsius }: HeatStart,
): HeatCourse {
  const count = blocks.filter(block => block.reading).length
  const ohm = new Float64Array(count)
  const winding = new Float64Array(count)
  const housing = new Float64Array(count)
  const housingAfter = new Float64Array(blocks.length)
  const steadyOhm = model.steadyShare * model.startOhm
  let at: Temperatures = { windingCelsius: startCelsius, housingCelsius: startCelsius }
  let n = 0
  for (const [b, block] of blocks.entries()) {
    const drop = model.brushDropVolt * Math.tanh(block.amp / model.brushKneeAmp) * block.amp
    const contact = drop + steadyOhm * block.amp2
    const copper = block.standing
      ? block.watt - contact
      : block.amp2 * copperOhm(model, startCelsius, at.windingCelsius)
    const friction = model.backEmfVsPerRad * block.ampSpeed - block.loadWatt
    const heat = { windingWatt: copper, housingWatt: contact + friction }
    const { reading, ambientCelsius, fromSec, toSec } = block
    const go = (from: Temperatures, spanSec: number) =>
      advanceTemperatures(model, from, heat, ambientCelsius, spanSec)
    if (reading) {
      const then = go(at, Math.max(0, reading.atSec - fromSec))
      const knee = Math.tanh(reading.amp / model.brushKneeAmp)
      ohm[n] =
        copperOhm(model, startCelsius, then.windingCelsius) +
        steadyOhm +
        (model.brushDropVolt * knee) / reading.amp
      winding[n] = then.windingCelsius
      housing[n] = then.housingCelsius
      n++
    }
    at = go(at, toSec - fromSec)
    housingAfter[b] = at.housingCelsius
  }
  return { ohm, winding, housing, housingAfter }
}
