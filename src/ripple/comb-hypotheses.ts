import type { CombSettings } from './comb-settings.ts'
import type { TurnRateRange } from './level-fit.ts'
import { type RippleSettings, usualRippleCounts } from './ripple-settings.ts'

/** A prior counts out to so many standard uncertainties. */
const PRIOR_REACH = 3

/** All windings that the settings leave open. */
export function combsOf({ ripplesPerTurn, polePairs }: RippleSettings): CombSettings[] {
  if (ripplesPerTurn !== null)
    return [{ ripplesPerTurn, stride: strideOf(ripplesPerTurn, polePairs) }]
  const combs = new Map<string, CombSettings>()
  for (const count of usualRippleCounts()) {
    const stride = strideOf(count.ripplesPerTurn, count.polePairs)
    combs.set(`${count.ripplesPerTurn}/${stride}`, { ripplesPerTurn: count.ripplesPerTurn, stride })
  }
  return [...combs.values()]
}

/** The winding's pattern repeats 2p times a turn, if that divides the ripples. */
function strideOf(ripplesPerTurn: number, polePairs: number): number {
  const stride = 2 * polePairs
  return ripplesPerTurn % stride === 0 ? stride : 1
}

/** Of turns a second at one volt, what is known of the constant leaves. */
export function rangeOf({ backEmfConstant }: RippleSettings): TurnRateRange {
  if (backEmfConstant === null) return { lowest: 0, highest: Number.POSITIVE_INFINITY }
  const { value, standardUncertainty } = backEmfConstant
  const reach = Math.exp(PRIOR_REACH * (standardUncertainty / value))
  const turns = 1 / (2 * Math.PI * value)
  return { lowest: turns / reach, highest: turns * reach }
}

/** Whether the commutation is known to a narrow range before its lines are looked for. */
export const isLocated = ({ backEmfConstant, ripplesPerTurn }: RippleSettings) =>
  backEmfConstant !== null && ripplesPerTurn !== null
