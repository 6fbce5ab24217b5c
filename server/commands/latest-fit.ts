import { InputFault } from '../../src/base/faults.ts'
import type { CommandContext } from './context.ts'
import type { Store, StoredFit } from '../store/store.ts'

/** The latest identification of a motor; says which it is and what was held in it. */
export function latestFit(context: CommandContext, store: Store, motorName: string): StoredFit {
  const fit = findLatest(store, motorName)
  const held = Object.entries(fit.document.parameters)
    .filter(([, parameter]) => parameter.status === 'fixed')
    .map(([name, { value, unit }]) => `${name} held at ${value} ${unit}`)
  const when = fit.createdAt.slice(0, 16).replace('T', ' ')
  context.say(
    `from identification ${fit.id} of '${fit.document.motor}', ${when} UTC${held.length > 0 ? `, ${held.join(', ')}` : ''}`,
  )
  return fit
}

function findLatest(store: Store, motorName: string): StoredFit {
  const motor = store.motors.named(motorName)
  const fit = store.fits.latest(motor.id)
  if (!fit)
    throw new InputFault(
      `'${motor.name}' has not been identified yet: rotorfit fit --motor '${motor.name}'`,
    )
  return fit
}
