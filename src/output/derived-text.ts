import { RPM_PER_RAD_PER_SEC } from '../base/units.ts'
import { quantityText } from '../base/quantity-text.ts'
import type { DerivedResult } from '../contract/fit-document.ts'

/** A derived quantity as people say it: speeds in turns a minute, ratios in per cent. */
export function derivedText(line: DerivedResult): string {
  const [unit, factor] =
    line.unit === 'rad/s'
      ? ['rpm', RPM_PER_RAD_PER_SEC]
      : line.unit === '1'
        ? ['%', 100]
        : [line.unit, 1]
  const scaled = (value: number | null) => (value === null ? null : value * factor)
  return quantityText(scaled(line.value), unit, scaled(line.standardUncertainty)).text
}

/** What it is, without the note on how the number is stored: the text is in per cent already. */
export const derivedLabel = (line: DerivedResult): string =>
  line.label.replace(/ \(0\.01 is 1 %\)$/, '')
