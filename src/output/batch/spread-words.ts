import { quantityText, readingText } from '../../base/quantity-text.ts'
import type { BatchQuantity } from '../../quality/batch-analysis.ts'

/** The mean with its own standard uncertainty, from the scatter of the values. */
export const meanText = ({ mean, unit, sigma, values }: BatchQuantity): string =>
  quantityText(mean, unit, sigma === null ? null : sigma / Math.sqrt(values.length)).text

/** Three digits: few values do not tell their spread better. Empty for one value. */
export const sigmaText = ({ sigma, unit }: BatchQuantity): string =>
  sigma === null ? '' : readingText(sigma, unit, 3).text

/** The probability of a test as people write it: `0.018`, and `< 0.0001` where more digits mean nothing. */
export const chanceText = (p: number): string => (p < 1e-4 ? '< 0.0001' : p.toPrecision(2))

/** The same behind its sign: `p = 0.018`. */
export const chancePhrase = (p: number): string => `p ${p < 1e-4 ? '' : '= '}${chanceText(p)}`
