import packageFacts from '../../../package.json' with { type: 'json' }
import { judgeableQuantities, readingOf } from '../../../src/quality/judged-quantity.ts'
import { InputFault } from '../../../src/base/faults.ts'
import type { RuleQuery, SamplesOverview, SamplesView } from '../../../src/contract/http-samples.ts'
import { batchFile } from '../../files/batch-file.ts'
import { type CompareOrder, compareBatch } from '../../quality/compare-batch.ts'
import { readLimit } from '../../quality/limit-text.ts'
import { refitOrders, refitTerms } from '../../quality/refit-batch.ts'
import { sampleMotor } from '../../quality/sample-motor.ts'
import type { Store } from '../../store/store.ts'
import { decisionRule } from '../decision-rule.ts'
import type { Answers } from './library.ts'

type Names =
  | 'samplesView'
  | 'addBatch'
  | 'refitOrder'
  | 'enterByHand'
  | 'batchReport'
  | 'setLimits'
  | 'scanSample'

export const sampleAnswers: Pick<Answers, Names> = {
  samplesView({ store }, { batch: askedBatch, against, at, ...query }) {
    if (askedBatch !== undefined) store.batches.get(askedBatch)
    if (against !== undefined) store.types.get(against)
    const { types, batches } = overviewOf(store)
    const batch = batches.find(({ id }) => id === askedBatch) ?? batches[0] ?? null
    const type =
      types.find(({ id }) => id === against) ??
      types.find(({ id }) => id === batch?.typeId) ??
      types.find(({ hasLimits }) => hasLimits) ??
      types[0] ??
      null
    const judgement: SamplesView['judgement'] =
      batch && type?.hasLimits
        ? judged(store, orderOf(store, batch.id, { ...query, against: type.id }, at))
        : { state: 'not-yet' }
    return {
      types,
      batches,
      batch: batch?.id ?? null,
      type: type?.id ?? null,
      limits: type && limitsPage(store, type.id),
      judgement,
    }
  },
  addBatch({ store }, { name, type }) {
    const batch = store.batches.add({ name, typeId: store.types.get(type).id })
    return { id: batch.id, name: batch.name }
  },
  refitOrder({ store }, { batch, against }) {
    return {
      orders: refitOrders(store, store.batches.get(batch).name),
      ...refitTerms(store, store.limits.current(store.types.get(against).id)),
    }
  },
  enterByHand({ store }, { motor, ...entry }) {
    store.handEntries.add({ motorId: store.motors.named(motor).id, ...entry })
    return null
  },
  async batchReport({ store }, { batch, at, format, ...query }) {
    const comparison = compareBatch(store, orderOf(store, batch, query, at))
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

function overviewOf(store: Store): SamplesOverview {
  return {
    types: store.types
      .list()
      .map(({ id, name }) => ({ id, name, hasLimits: store.limits.current(id) !== null })),
    batches: store.batches
      .list()
      .map(({ id, name, typeId, motorIds }) => ({ id, name, typeId, motorCount: motorIds.length })),
  }
}

/** What keeps a batch from being judged is said in its place; limits and the rest are shown all the same. */
function judged(store: Store, order: CompareOrder): SamplesView['judgement'] {
  try {
    const comparison = compareBatch(store, { ...order, mayBeEmpty: true })
    return { state: 'judged', comparison: { ...comparison } }
  } catch (error) {
    if (!(error instanceof InputFault)) throw error
    return { state: 'in-trouble', text: error.message }
  }
}

function orderOf(store: Store, batch: number, query: RuleQuery, at: string): CompareOrder {
  return {
    batch: store.batches.get(batch).name,
    type: store.types.get(query.against).name,
    rule: decisionRule(query),
    otherBatch: query.with === undefined ? null : store.batches.get(query.with).name,
    subgroupSize: query.subgroup ?? null,
    at,
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
