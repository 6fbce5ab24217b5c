import type { Store } from '../../server/store/store.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'
import { referenceFit } from './short-test-rig.ts'

/** A type with an approved specimen of a practice motor as its reference, and limits around it. */
export function fillApprovedType(store: Store, motor: PracticeMotor): number {
  const typeId = store.types.add({ name: 'BR-12' }).id
  const approved = store.motors.add({ name: 'approved', typeId, serialNumber: 'A1' }).id
  store.fits.add({
    motorId: approved,
    runIds: [],
    document: referenceFit(motor, 3),
    settings: {},
    inputsHash: '',
  })
  store.limits.add({
    typeId,
    limits: [
      { quantity: 'backEmfConstant', unit: 'V s/rad', basis: 'percent', lower: -10, upper: 10 },
      { quantity: 'inertia', unit: 'kg m2', basis: 'percent', lower: -20, upper: 20 },
    ],
    referenceTemperatureCelsius: 20,
    referenceMotorIds: [approved],
    author: 'Q',
    reason: 'approval',
  })
  return typeId
}
