import { InputFault } from '../../src/base/faults.ts'
import type { Store, StoredFit } from '../store/store.ts'

/** The latest identification of a motor, or the words that say how to get one. */
export function latestFit(store: Store, motorName: string): StoredFit {
  const motor = store.motors.named(motorName)
  const fit = store.fits.latest(motor.id)
  if (!fit)
    throw new InputFault(
      `'${motor.name}' has not been identified yet: rotorfit fit --motor '${motor.name}'`,
    )
  return fit
}
