import { InputFault } from '../../src/base/faults.ts'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { analyseBatch, compareBatches } from '../../src/quality/batch-analysis.ts'
import type { DecisionRule } from '../../src/quality/conformity.ts'
import { pooledUncertainty } from '../../src/quality/pooled-uncertainty.ts'
import { type ResolvedLimit, resolveLimits } from '../../src/quality/resolve-limits.ts'
import { allowForPositions, referenceScatter } from '../../src/quality/widened-fit.ts'
import { judgeSample, type SampleVerdict } from '../../src/quality/verdict.ts'
import type { BatchComparison } from '../../src/quality/batch-comparison.ts'
import type { LimitSet } from '../../src/records/limits.ts'
import type { Motor, MotorType } from '../../src/records/motor.ts'
import type { Store, StoredFit } from '../store/store.ts'
import { benchChecks } from './bench-checks.ts'
import { gaugeStudies } from './gauge-studies.ts'

export interface CompareOrder {
  readonly batch: string
  readonly type: string
  readonly rule: DecisionRule
  readonly otherBatch: string | null
  /** Samples in a row that make a subgroup of the control charts; null: each stands for itself. */
  readonly subgroupSize: number | null
  /** Now, ISO 8601. */
  readonly at: string
  /** A batch that samples are only now put into has none to judge yet. */
  readonly mayBeEmpty?: true
}

export function compareBatch(store: Store, order: CompareOrder): BatchComparison {
  const type = store.types.named(order.type)
  const limits = store.limits.current(type.id)
  if (!limits)
    throw new InputFault(
      `type '${type.name}' has no limits yet: rotorfit limits set --type '${type.name}' …`,
    )
  const ground = groundOf(store, type, limits, order.rule)
  const { resolved } = ground
  const first = judgeBatch(store, order.batch, ground, order.mayBeEmpty)
  const quantities = analyseBatch(first.samples, order.subgroupSize)
  const bench = benchChecks(
    store,
    resolved.map(limit => limit.quantity),
    order.at,
  )
  const other = order.otherBatch === null ? null : judgeBatch(store, order.otherBatch, ground)
  const count = (verdict: SampleVerdict['verdict']) =>
    first.samples.filter(s => s.verdict === verdict).length
  return {
    schema: 'compare/1',
    batch: order.batch,
    type: type.name,
    comparedAt: order.at,
    rule: order.rule,
    subgroupSize: order.subgroupSize,
    limits,
    resolved,
    counts: { pass: count('pass'), fail: count('fail'), undecided: count('undecided') },
    samples: first.samples,
    quantities,
    against: other && {
      batch: order.otherBatch!,
      means: compareBatches(quantities, analyseBatch(other.samples)),
    },
    bench,
    studies: gaugeStudies(
      store,
      type,
      resolved.map(limit => limit.quantity),
    ),
    warnings: [...bench.flatMap(check => check.warnings), ...first.warnings],
  }
}

/** What samples of a type are judged by: limits as numbers, and what the reference says of scatter. */
export interface JudgingGround {
  readonly type: MotorType
  readonly limits: LimitSet
  readonly resolved: readonly ResolvedLimit[]
  readonly rule: DecisionRule
  readonly scatterShare: number | null
  /** Identifications of the latest short tests of the type. */
  readonly shortTests: readonly FitDocument[]
}

/** Short tests that stand for how well such a test knows. */
const LOOKED_AT = 40

export function groundOf(
  store: Store,
  type: MotorType,
  limits: LimitSet,
  rule: DecisionRule,
): JudgingGround {
  const reference = referenceFits(store, limits).map(fit => fit.document)
  const resolved = resolveLimits(limits, reference)
  if (!resolved.ok) throw new InputFault(resolved.error)
  return {
    type,
    limits,
    resolved: resolved.value,
    rule,
    scatterShare: referenceScatter(reference),
    shortTests: store.shortTests
      .ofType(type.id, LOOKED_AT)
      .map(test => store.fits.get(test.fitId).document),
  }
}

/**
 * The identifications that a set of limits refers to: those that its motors had when it was set. A later one,
 * as of a reference motor that serves as a check motor too, does not move the limits.
 */
export function referenceFits(store: Store, limits: LimitSet): StoredFit[] {
  return limits.referenceMotorIds.map(id => {
    const fits = store.fits.list(id)
    const then = fits
      .filter(fit => fit.createdAt <= limits.setAt)
      .reduce<StoredFit | null>(
        (newest, fit) => (newest && newest.id > fit.id ? newest : fit),
        null,
      )
    const fit = then ?? store.fits.latest(id)
    if (!fit)
      throw new InputFault(
        `'${store.motors.get(id).name}' of the reference has not been identified`,
      )
    return fit
  })
}

/** The verdict on one motor by its latest identification and what was typed in about it. */
export function judgeMotor(store: Store, motor: Motor, ground: JudgingGround): SampleVerdict {
  const fit = store.fits.latest(motor.id)?.document ?? null
  return judgeSample(
    {
      motor: motor.name,
      serialNumber: motor.serialNumber,
      fit: fit && allowForPositions(pooledUncertainty(fit, ground.shortTests), ground.scatterShare),
      entries: store.handEntries.current(motor.id),
      otherType:
        motor.typeId !== null && motor.typeId !== ground.type.id
          ? store.types.get(motor.typeId).name
          : null,
    },
    ground.resolved,
    ground.limits.referenceTemperatureCelsius,
    ground.rule,
  )
}

function judgeBatch(
  store: Store,
  batchName: string,
  ground: JudgingGround,
  mayBeEmpty = false,
): { samples: SampleVerdict[]; warnings: string[] } {
  const batch = store.batches.named(batchName)
  if (batch.motorIds.length === 0 && !mayBeEmpty) {
    throw new InputFault(
      `batch '${batch.name}' is empty: rotorfit batch add '${batch.name}' MOTOR …`,
    )
  }
  const motors = batch.motorIds.map(id => store.motors.get(id))
  const warnings = [...mixedTypes(store, motors, ground.type), ...repeatedSerialNumbers(motors)]
  const doubles = doubleSerialNumbers(motors)
  const samples = motors.map(motor => {
    const sample = judgeMotor(store, motor, ground)
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
