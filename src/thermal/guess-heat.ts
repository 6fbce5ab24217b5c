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
/** A housing takes several times the heat of its winding, and stands for so much of the whole resistance. */
const HOUSING_GUESSES = [
  { capacityRatio: 8, ownShare: 0.35 },
  { capacityRatio: 4, ownShare: 0.6 },
  { capacityRatio: 15, ownShare: 0.2 },
] as const

/**
 * Starting points of the fit: heat capacity of the winding from its first warming per joule, both thermal
 * resistances from the highest rise over the power then, shared out by what is usual (no source).
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
    HOUSING_GUESSES.map(({ capacityRatio, ownShare }) => [
      Math.log(ownShare * wholeKPerW),
      Math.log(1.3 * (1 - ownShare) * wholeKPerW),
      Math.log(0.7 * windingJPerK),
      Math.log(0.7 * windingJPerK * capacityRatio),
      Math.log(first),
      setting.brushKnee.value,
      drop,
    ]),
  )
}
