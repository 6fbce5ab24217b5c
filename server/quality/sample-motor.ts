import { InputFault } from '../../src/base/faults.ts'
import type { Motor, MotorType } from '../../src/records/motor.ts'
import type { Store } from '../store/store.ts'

/** The motor of a type with this serial number, added where there is none. */
export function sampleMotor(
  store: Store,
  type: MotorType,
  serialNumber: string,
): { motor: Motor; isNew: boolean } {
  if (serialNumber === '') {
    throw new InputFault('the serial number is empty; give it as it stands on the motor')
  }
  const same = store.motors
    .list({ typeId: type.id })
    .filter(motor => motor.serialNumber === serialNumber)
  if (same.length > 1) {
    throw new InputFault(
      `serial number ${serialNumber} stands on ${same.map(motor => `'${motor.name}'`).join(' and ')}: correct one of them first (rotorfit motors tag)`,
    )
  }
  if (same[0]) return { motor: same[0], isNew: false }
  const name = store.motors.find(serialNumber) ? `${type.name} ${serialNumber}` : serialNumber
  return { motor: store.motors.add({ name, typeId: type.id, serialNumber }), isNew: true }
}
