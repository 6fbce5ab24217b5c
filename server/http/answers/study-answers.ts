import { InputFault } from '../../../src/base/faults.ts'
import type { StudyPage } from '../../../src/contract/http-samples.ts'
import { judgeableQuantities } from '../../../src/quality/judged-quantity.ts'
import { gaugeStudies, studyFault } from '../../quality/gauge-studies.ts'
import type { Store } from '../../store/store.ts'
import type { Answers } from './library.ts'

export const studyAnswers: Pick<Answers, 'studyPage' | 'addTrial'> = {
  studyPage: ({ store }, { type, study }) => studyPage(store, type, study),
  addTrial({ store }, { type, body }) {
    const motor = store.motors.get(body.motor)
    if (motor.typeId !== store.types.get(type).id) {
      throw new InputFault(
        `'${motor.name}' is not of type '${store.types.get(type).name}'; give it that type first, or choose another motor`,
      )
    }
    const fit = store.fits.latest(motor.id)
    if (!fit) throw new InputFault(`'${motor.name}' has not been identified yet; test it first`)
    store.gaugeTrials.add({
      study: body.study,
      motorId: motor.id,
      operator: body.operator,
      fitId: fit.id,
    })
    return studyPage(store, type, body.study)
  },
}

function studyPage(store: Store, typeId: number, study: string): StudyPage {
  const type = store.types.get(typeId)
  const motors = store.motors.list({ typeId })
  const own = new Set(motors.map(motor => motor.id))
  const all = store.gaugeTrials
    .studies()
    .map(name => ({ name, trials: store.gaugeTrials.ofStudy(name) }))
  const counted = new Set(all.flatMap(each => each.trials.map(trial => trial.fitId)))
  const trials = all.find(each => each.name === study)?.trials ?? []
  const fits = motors.map(motor => ({ motor, fit: store.fits.latest(motor.id) }))
  const quantities = [
    ...new Set(trials.flatMap(trial => judgeableQuantities(store.fits.get(trial.fitId).document))),
  ]
  const results = gaugeStudies(store, type, quantities, study)
  return {
    type: { id: type.id, name: type.name },
    studies: all
      .filter(each => each.trials.every(trial => own.has(trial.motorId)))
      .map(each => each.name),
    motors: fits.map(({ motor, fit }) => ({
      id: motor.id,
      name: motor.name,
      fit: fit && { id: fit.id, createdAt: fit.createdAt, isCounted: counted.has(fit.id) },
    })),
    trials: trials.map(trial => ({
      motor: store.motors.get(trial.motorId).name,
      operator: trial.operator,
      recordedAt: trial.recordedAt,
    })),
    results: results.map(result => ({ ...result })),
    remark: results.length > 0 ? '' : studyFault(store, study),
  }
}
