import type { BatchComparison } from '../../quality/batch-comparison.ts'
import { csvRow } from '../csv-text.ts'

/** A row a sample and quantity, in the units of the limits. */
export function batchCsv(comparison: BatchComparison): string {
  const titles = [
    'batch',
    'type',
    'motor',
    'serial number',
    'verdict of the sample',
    'quantity',
    'label',
    'unit',
    'value',
    'standard uncertainty',
    'lower limit',
    'upper limit',
    'reference',
    'verdict',
    'probability of conformity',
    'test uncertainty ratio',
    'remark',
    'what stands out',
  ]
  const rows = comparison.samples.flatMap(sample =>
    sample.quantities.map(q =>
      csvRow([
        comparison.batch,
        comparison.type,
        sample.motor,
        sample.serialNumber,
        sample.verdict,
        q.quantity,
        q.label,
        q.unit,
        q.value,
        q.standardUncertainty,
        q.band.lower,
        q.band.upper,
        q.nominal,
        q.verdict,
        q.conformity,
        q.uncertaintyRatio,
        q.remark,
        [...sample.standsOut, ...sample.warnings].join('; '),
      ]),
    ),
  )
  return [csvRow(titles), ...rows].join('')
}
