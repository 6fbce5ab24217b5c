import { InputFault } from '../../../src/base/faults.ts'
import type { Store, StoredFit } from '../../store/store.ts'

/**
 * The identification of a motor that an address names, else its newest; null where it has none yet.
 * @throws InputFault where the one named is another motor's.
 */
export function fitOfMotor(
  store: Store,
  motorId: number,
  fitId: number | undefined,
): StoredFit | null {
  if (fitId === undefined) return store.fits.latest(motorId)
  const fit = store.fits.get(fitId)
  if (fit.motorId === motorId) return fit
  throw new InputFault(`fit ${fitId} is not one of '${store.motors.get(motorId).name}'`)
}
