import { InputFault } from '../../src/base/faults.ts'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import {
  analyseBatch,
  type BatchQuantity,
  compareBatches,
} from '../../src/quality/batch-analysis.ts'
import type { DecisionRule } from '../../src/quality/conformity.ts'
import { type ResolvedLimit, resolveLimits } from '../../src/quality/resolve-limits.ts'
import { judgeSample, type SampleVerdict } from '../../src/quality/verdict.ts'
import type { LimitSet } from '../../src/records/limits.ts'
import type { Motor, MotorType } from '../../src/records/motor.ts'
import type { Store } from '../store/store.ts'

/** A batch judged against the limits of a type: what `compare` prints, the page shows and the report holds. */
export interface BatchComparison {
  readonly schema: 'compare/1'
  readonly batch: string
  readonly type: string
  readonly rule: DecisionRule
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
  readonly warnings: readonly string[]
}

export interface CompareOrder {
  readonly batch: string
  readonly type: string
  readonly rule: DecisionRule
  readonly otherBatch: string | null
}

export function compareBatch(store: Store, order: CompareOrder): BatchComparison {
  const type = store.types.named(order.type)
  const limits = store.limits.current(type.id)
  if (!limits)
    throw new InputFault(
      `type '${type.name}' has no limits yet: rotorfit limits set --type '${type.name}' …`,
    )
  const resolved = limitsInNumbers(store, limits)
  const first = judgeAll(store, order.batch, type, limits, resolved, order.rule)
  const quantities = analyseBatch(first.samples)
  const other =
    order.otherBatch === null
      ? null
      : judgeAll(store, order.otherBatch, type, limits, resolved, order.rule)
  const count = (verdict: SampleVerdict['verdict']) =>
    first.samples.filter(s => s.verdict === verdict).length
  return {
    schema: 'compare/1',
    batch: order.batch,
    type: type.name,
    rule: order.rule,
    limits,
    resolved,
    counts: { pass: count('pass'), fail: count('fail'), undecided: count('undecided') },
    samples: first.samples,
    quantities,
    against: other && {
      batch: order.otherBatch!,
      means: compareBatches(quantities, analyseBatch(other.samples)),
    },
    warnings: first.warnings,
  }
}

/** The limits of a set as numbers, by the identifications of its reference. */
export function limitsInNumbers(store: Store, limits: LimitSet): ResolvedLimit[] {
  const reference = limits.referenceMotorIds.map(id => {
    const fit = store.fits.latest(id)
    if (!fit)
      throw new InputFault(
        `'${store.motors.get(id).name}' of the reference has not been identified`,
      )
    return fit.document
  })
  const resolved = resolveLimits(limits, reference)
  if (!resolved.ok) throw new InputFault(resolved.error)
  return resolved.value
}

function judgeAll(
  store: Store,
  batchName: string,
  type: MotorType,
  limits: LimitSet,
  resolved: readonly ResolvedLimit[],
  rule: DecisionRule,
): { samples: SampleVerdict[]; warnings: string[] } {
  const batch = store.batches.named(batchName)
  if (batch.motorIds.length === 0) {
    throw new InputFault(
      `batch '${batch.name}' is empty: rotorfit batch add '${batch.name}' MOTOR …`,
    )
  }
  const motors = batch.motorIds.map(id => store.motors.get(id))
  const warnings = [...mixedTypes(store, motors, type), ...repeatedSerialNumbers(motors)]
  const doubles = doubleSerialNumbers(motors)
  const samples = motors.map(motor => {
    const fit: FitDocument | null = store.fits.latest(motor.id)?.document ?? null
    const sample = judgeSample(
      {
        motor: motor.name,
        serialNumber: motor.serialNumber,
        fit,
        entries: store.handEntries.current(motor.id),
        otherType:
          motor.typeId !== null && motor.typeId !== type.id
            ? store.types.get(motor.typeId).name
            : null,
      },
      resolved,
      limits.referenceTemperatureCelsius,
      rule,
    )
    const double = doubles.get(motor.id)
    return double === undefined
      ? sample
      : { ...sample, countsInBatch: false, warnings: [...sample.warnings, double] }
  })
  return { samples, warnings }
}

/** Motors that carry the serial number of an earlier one: they do not count a second time in the indices. */
function doubleSerialNumbers(motors: readonly Motor[]): Map<number, string> {
  const first = new Map<string, Motor>()
  const doubles = new Map<number, string>()
  for (const motor of motors) {
    if (motor.serialNumber === '') continue
    const earlier = first.get(motor.serialNumber)
    if (earlier)
      doubles.set(motor.id, `has the serial number of '${earlier.name}'; left out of the indices`)
    else first.set(motor.serialNumber, motor)
  }
  return doubles
}

function mixedTypes(store: Store, motors: readonly Motor[], type: MotorType): string[] {
  const strangers = motors.filter(motor => motor.typeId !== null && motor.typeId !== type.id)
  return strangers.length === 0
    ? []
    : [
        `the batch is mixed: ${strangers.map(m => `'${m.name}' is a '${store.types.get(m.typeId!).name}'`).join(', ')}; left undecided, and out of the indices`,
      ]
}

function repeatedSerialNumbers(motors: readonly Motor[]): string[] {
  const byNumber = new Map<string, Motor[]>()
  for (const motor of motors) {
    if (motor.serialNumber === '') continue
    byNumber.set(motor.serialNumber, [...(byNumber.get(motor.serialNumber) ?? []), motor])
  }
  return [...byNumber].flatMap(([number, same]) =>
    same.length < 2
      ? []
      : [
          `serial number ${number} stands on ${same.map(m => `'${m.name}'`).join(' and ')}: one of them was typed wrong, or a motor was tested twice`,
        ],
  )
}
