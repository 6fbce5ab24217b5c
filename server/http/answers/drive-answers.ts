import { InputFault } from '../../../src/base/faults.ts'
import { checkDrive } from '../../../src/contract/drive-document.ts'
import { withstandDocumentOf } from '../../../src/drive/withstand.ts'
import { modelName } from '../../../src/output/model/model-notes.ts'
import { modelText } from '../../../src/output/model/model-text.ts'
import { storedModel } from '../../files/motor-model.ts'
import type { Store, StoredFit } from '../../store/store.ts'
import { toldWindingHeat } from '../../thermal/newest-heat.ts'
import { fitOfMotor } from './fit-of-motor.ts'
import type { Answers } from './library.ts'
import { view } from './motor-answers.ts'

export const driveAnswers: Pick<Answers, 'drivePage' | 'withstand' | 'modelFile'> = {
  drivePage({ store, heats }, { motor: id, fit }) {
    const motor = view(store, store.motors.get(id))
    if (fit === undefined && store.fits.latest(id) === null) {
      return { motor, fit: null, windingHeat: null, heatNote: null }
    }
    const { heat, note } = toldWindingHeat(store, heats, id)
    const { id: fitId, document } = fitOf(store, id, fit)
    return { motor, fit: { id: fitId, document }, windingHeat: heat, heatNote: note }
  },
  withstand({ store, heats }, { motor, fit, drive }) {
    const fault = checkDrive(drive)
    if (fault !== null) throw new InputFault(fault)
    const { id, document } = fitOf(store, motor, fit)
    const { heat: windingHeat } =
      drive.windingHeatJoulePerKelvin === undefined
        ? toldWindingHeat(store, heats, motor)
        : { heat: null }
    return withstandDocumentOf({ fit: id, document, windingHeat }, drive)
  },
  modelFile({ store }, { motor, fit, format }) {
    const model = storedModel(store, fitOf(store, motor, fit))
    return { text: modelText(model, format), fileName: `${modelName(model.motor)}.${format}` }
  },
}

/** The newest identification of a motor, or the one named. */
function fitOf(store: Store, motorId: number, fitId: number | undefined): StoredFit {
  const { name } = store.motors.get(motorId)
  const fit = fitOfMotor(store, motorId, fitId)
  if (fit) return fit
  throw new InputFault(`'${name}' has not been identified yet`)
}
