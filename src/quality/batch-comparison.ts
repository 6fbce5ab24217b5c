import type { LimitSet } from '../records/limits.ts'
import type { BatchQuantity, compareBatches } from './batch-analysis.ts'
import type { CheckChart } from './check-motor.ts'
import type { DecisionRule } from './conformity.ts'
import type { GaugeStudy } from './gauge-study.ts'
import type { ResolvedLimit } from './resolve-limits.ts'
import type { SampleVerdict } from './verdict.ts'

/** A batch judged against the limits of a type: what `compare` prints, the page shows and the report holds. */
export interface BatchComparison {
  readonly schema: 'compare/1'
  readonly batch: string
  readonly type: string
  /** ISO 8601, UTC. */
  readonly comparedAt: string
  readonly rule: DecisionRule
  /** Samples in a row that make a subgroup of the control charts; null: each stands for itself. */
  readonly subgroupSize: number | null
  readonly limits: LimitSet
  readonly resolved: readonly ResolvedLimit[]
  readonly counts: Readonly<Record<SampleVerdict['verdict'], number>>
  readonly samples: readonly SampleVerdict[]
  readonly quantities: readonly BatchQuantity[]
  /** Means against another batch, where one was named. */
  readonly against: {
    readonly batch: string
    readonly means: ReturnType<typeof compareBatches>
  } | null
  /** What the check motors say of the bench, before any sample is failed. */
  readonly bench: readonly BenchCheck[]
  /** Repeatability and reproducibility on motors of the type. */
  readonly studies: readonly StudiedQuantity[]
  readonly warnings: readonly string[]
}

export interface StudiedQuantity {
  readonly study: string
  readonly quantity: string
  readonly label: string
  readonly unit: string
  readonly result: GaugeStudy
}

/** What a check motor says of a bench. */
export interface BenchCheck {
  readonly motor: string
  /** Serial number of the rig; null where the tests were imported. */
  readonly rig: string | null
  readonly measuredAt: string
  readonly operator: string
  readonly charts: readonly CheckChart[]
  /** Drift first, then what else is to be borne in mind. */
  readonly warnings: readonly string[]
}
