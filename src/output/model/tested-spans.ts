import type { MotorModel } from '../../contract/motor-model.ts'
import { QUANTITIES, type Quantity, UNIT_OF } from '../../records/quantity.ts'
import type { Recording } from '../../records/recording.ts'

/** Lowest and highest reading of each quantity over recordings, as they were logged; gaps left out. */
export function testedSpans(recordings: Iterable<Recording>): MotorModel['tested'] {
  const spans = new Map<Quantity, { lowest: number; highest: number }>()
  for (const { columns } of recordings) {
    for (const quantity of QUANTITIES) {
      const values = columns[quantity]
      if (!values || quantity === 'position') continue
      let { lowest, highest } = spans.get(quantity) ?? {
        lowest: Number.POSITIVE_INFINITY,
        highest: Number.NEGATIVE_INFINITY,
      }
      for (const value of values) {
        if (value < lowest) lowest = value
        if (value > highest) highest = value
      }
      if (lowest <= highest) spans.set(quantity, { lowest, highest })
    }
  }
  return QUANTITIES.filter(quantity => spans.has(quantity)).map(quantity => ({
    quantity,
    unit: UNIT_OF[quantity],
    ...spans.get(quantity)!,
  }))
}
