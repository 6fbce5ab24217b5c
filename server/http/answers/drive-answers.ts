import { InputFault } from '../../../src/base/faults.ts'
import { checkDrive } from '../../../src/contract/drive-document.ts'
import { withstandDocumentOf } from '../../../src/drive/withstand.ts'
import { modelName } from '../../../src/output/model/model-notes.ts'
import { modelText } from '../../../src/output/model/model-text.ts'
import { storedModel } from '../../files/motor-model.ts'
import type { Store, StoredFit } from '../../store/store.ts'
import type { Answers } from './library.ts'

export const driveAnswers: Pick<Answers, 'withstand' | 'modelFile'> = {
  withstand({ store }, { motor, fit, drive }) {
    const fault = checkDrive(drive)
    if (fault !== null) throw new InputFault(fault)
    const { id, document } = fitOf(store, motor, fit)
    return withstandDocumentOf({ fit: id, document, windingHeatJoulePerKelvin: null }, drive)
  },
  modelFile({ store }, { motor, fit, format }) {
    const model = storedModel(store, fitOf(store, motor, fit))
    return { text: modelText(model, format), fileName: `${modelName(model.motor)}.${format}` }
  },
}

/** The newest identification of a motor, or the one named. */
function fitOf(store: Store, motorId: number, fitId: number | undefined): StoredFit {
  const { name } = store.motors.get(motorId)
  const fit = fitId === undefined ? store.fits.latest(motorId) : store.fits.get(fitId)
  if (fit && fit.motorId === motorId) return fit
  throw new InputFault(
    fit ? `fit ${fitId} is not one of '${name}'` : `'${name}' has not been identified yet`,
  )
}
