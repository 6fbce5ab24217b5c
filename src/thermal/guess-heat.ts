import { failure, type Result, success } from '../base/result.ts'
import { COPPER_ZERO_CELSIUS } from '../motor/winding-temperature.ts'
import type { HeatBlock } from './heat-blocks.ts'
import type { HeatSetting } from './heat-setting.ts'

/** Rises smaller than this tell nothing of a thermal model. */
const LEAST_RISE_KELVIN = 5
/** Readings at this share of the largest current or more are those of the heating. */
const STRONG_SHARE = 0.6
/** Share of the final rise within which the warming still goes by the winding's heat capacity. */
const EARLY_SHARE = 0.35
/**
 * A housing takes several times the heat of its winding; the winding stands for so much of the whole resistance,
 * and for so much of the heat that the first warming took. The first of each is what is usual (no source).
 */
const CAPACITY_RATIOS = [8, 2, 4, 15, 30] as const
const OWN_SHARES = [0.35, 0.2, 0.5, 0.65, 0.8] as const
const WINDING_SHARES = [0.7, 0.3, 0.5, 1] as const

/**
 * Points that the fit may start from: heat capacity of the winding from its first warming per joule, both thermal
 * resistances from the highest rise over the power then, shared out in many ways.
 */
export function guessHeat(
  blocks: readonly HeatBlock[],
  setting: HeatSetting,
): Result<number[][], string> {
  const { value: drop } = setting.brushDrop
  const { startCelsius } = setting
  // Readings at one current: an error of the brush drop is then the same in all.
  const most = Math.max(...blocks.map(block => block.reading?.amp ?? 0))
  const net = blocks.flatMap(block =>
    block.reading && block.reading.amp > STRONG_SHARE * most
      ? [
          {
            block,
            atSec: block.reading.atSec,
            ohm:
              block.reading.ohm -
              (drop * Math.tanh(block.reading.amp / Math.exp(setting.brushKnee.value))) /
                block.reading.amp,
          },
        ]
      : [],
  )
  const first = net[0]!.ohm
  if (!(first > 0)) {
    return failure('the voltage does not exceed the brush drop: heat with more current')
  }
  const rises = net.map(({ ohm }) => (ohm / first - 1) * (COPPER_ZERO_CELSIUS + startCelsius))
  const top = rises.indexOf(Math.max(...rises))
  const rise = rises[top]!
  if (!(rise > LEAST_RISE_KELVIN)) {
    return failure(
      `the winding warmed by ${Math.max(0, rise).toFixed(1)} K only; heat with more current until it is at least 30 K warmer`,
    )
  }
  const begin = blocks.find(block => block.watt > 0)!.fromSec
  const energy = (toSec: number) =>
    blocks.reduce(
      (sum, { fromSec, toSec: end, watt }) =>
        sum + watt * Math.max(0, Math.min(toSec, end) - fromSec),
      0,
    )
  const early = rises.findIndex(value => value > EARLY_SHARE * rise)
  const windingJPerK = energy(net[early]!.atSec) / rises[early]!
  const meanWatt = energy(net[top]!.atSec) / (net[top]!.atSec - begin)
  const wholeKPerW = rise / meanWatt
  return success(
    WINDING_SHARES.flatMap(windingShare =>
      OWN_SHARES.flatMap(ownShare =>
        CAPACITY_RATIOS.map(capacityRatio => [
          Math.log(ownShare * wholeKPerW),
          Math.log(1.3 * (1 - ownShare) * wholeKPerW),
          Math.log(windingShare * windingJPerK),
          Math.log(windingShare * windingJPerK * capacityRatio),
          Math.log(first),
          setting.brushKnee.value,
          drop,
        ]),
      ),
    ),
  )
}
