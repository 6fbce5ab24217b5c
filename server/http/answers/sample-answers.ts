import packageFacts from '../../../package.json' with { type: 'json' }
import type { BatchComparison } from '../../../src/quality/batch-comparison.ts'
import type { DecisionRule } from '../../../src/quality/conformity.ts'
import { judgeableQuantities, readingOf } from '../../../src/quality/judged-quantity.ts'
import type { RuleQuery } from '../../../src/contract/http-samples.ts'
import { batchFile } from '../../files/batch-file.ts'
import { compareBatch } from '../../quality/compare-batch.ts'
import { readLimit } from '../../quality/limit-text.ts'
import { sampleMotor } from '../../quality/sample-motor.ts'
import type { Store } from '../../store/store.ts'
import type { Answers } from './library.ts'

type Names =
  | 'samplesOverview'
  | 'batchComparison'
  | 'batchReport'
  | 'limitsPage'
  | 'setLimits'
  | 'scanSample'

export const sampleAnswers: Pick<Answers, Names> = {
  samplesOverview: ({ store }) => ({
    types: store.types
      .list()
      .map(({ id, name }) => ({ id, name, hasLimits: store.limits.current(id) !== null })),
    batches: store.batches
      .list()
      .map(({ id, name, typeId, motorIds }) => ({ id, name, typeId, motorCount: motorIds.length })),
  }),
  batchComparison: ({ store }, { batch, at, ...query }) => ({
    ...compared(store, batch, query, at),
  }),
  async batchReport({ store }, { batch, at, format, ...query }) {
    const comparison = compared(store, batch, query, at)
    const plain = comparison.batch.replaceAll(/[^\p{L}\p{N}]+/gu, '-').replaceAll(/^-|-$/g, '')
    return {
      bytes: await batchFile(
        { comparison, program: `rotorfit ${packageFacts.version}` },
        format,
        'a4',
      ),
      fileName: `${plain.slice(0, 80) || 'batch'}-report.${format}`,
    }
  },
  limitsPage: ({ store }, { type }) => limitsPage(store, type),
  setLimits({ store }, { type, body }) {
    store.types.get(type)
    const fits = body.reference.flatMap(id => store.fits.latest(id)?.document ?? [])
    store.limits.add({
      typeId: type,
      limits: body.limits.map(text => readLimit(text, fits)),
      referenceTemperatureCelsius: body.referenceTemperatureCelsius,
      referenceMotorIds: body.reference,
      author: body.author,
      reason: body.reason,
    })
    return limitsPage(store, type)
  },
  scanSample({ store }, { batch, serialNumber, type }) {
    const { motor, isNew } = sampleMotor(store, store.types.get(type), serialNumber.trim())
    store.batches.include(batch, motor.id)
    return { motor: motor.name, motorId: motor.id, isNew }
  },
}

function compared(store: Store, batch: number, query: RuleQuery, at: string): BatchComparison {
  return compareBatch(store, {
    batch: store.batches.get(batch).name,
    type: store.types.get(query.against).name,
    rule: ruleOf(query),
    otherBatch: query.with === undefined ? null : store.batches.get(query.with).name,
    subgroupSize: query.subgroup ?? null,
    at,
  })
}

function ruleOf({ rule, level }: RuleQuery): DecisionRule {
  switch (rule) {
    case 'simple':
      return { kind: 'simple' }
    case 'conformity':
      return { kind: 'conformity', probability: level ?? 0.95 }
    case 'consumer-risk':
      return { kind: 'consumer-risk', risk: level ?? 0.05 }
    default:
      return rule satisfies never
  }
}

function limitsPage(store: Store, typeId: number) {
  const { id, name } = store.types.get(typeId)
  const motors = store.motors.list({ typeId }).flatMap(motor => {
    const fit = store.fits.latest(motor.id)
    return fit ? [{ id: motor.id, name: motor.name, fit: fit.document }] : []
  })
  const quantities = new Map(
    motors.flatMap(({ fit }) =>
      judgeableQuantities(fit).map(quantity => {
        const { label, unit } = readingOf(fit, quantity)!
        return [quantity, { quantity, label, unit }] as const
      }),
    ),
  )
  return {
    type: { id, name },
    sets: store.limits.history(id).map(({ referenceMotorIds, typeId: _, limits, ...set }) => ({
      ...set,
      limits: limits.map(limit => ({ ...limit })),
      reference: referenceMotorIds.map(motorId => store.motors.get(motorId).name),
    })),
    motors: motors.map(motor => ({ id: motor.id, name: motor.name })),
    quantities: [...quantities.values()],
  }
}
