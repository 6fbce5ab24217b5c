import { usualRippleCounts } from '../ripple/ripple-settings.ts'

/** Usual commutators that have so many ripples a turn, in words; empty where none has. */
export const commutatorsWith = (ripplesPerTurn: number): string =>
  [...usualRippleCounts()]
    .filter(each => each.ripplesPerTurn === ripplesPerTurn)
    .map(
      ({ segments, polePairs }) =>
        `${segments} (${polePairs} pole pair${polePairs > 1 ? 's' : ''})`,
    )
    .join(', ')
