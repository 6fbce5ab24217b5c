import type { Command } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import type { Store, StoredFit } from '../store/store.ts'
import type { CommandContext } from './context.ts'
import { integerOption } from './parse-options.ts'

export interface FitChoice {
  readonly motor: string
  /** By number; left out: the latest. */
  readonly identification?: number
}

export const withFitChoice = (command: Command): Command =>
  command
    .requiredOption('--motor <name>', 'the motor')
    .option(
      '--identification <number>',
      'by which of its identifications; the latest where left out',
      integerOption(1, Number.MAX_SAFE_INTEGER),
    )

/** An identification of a motor; says which it is, of which runs, and what was held in it. */
export function chosenFit(context: CommandContext, store: Store, choice: FitChoice): StoredFit {
  const fit = find(store, choice)
  const held = Object.entries(fit.document.parameters)
    .filter(([, parameter]) => parameter.status === 'fixed')
    .map(([name, { value, unit }]) => `, ${name} held at ${value} ${unit}`)
  const when = fit.createdAt.slice(0, 16).replace('T', ' ')
  const runs = fit.document.runs.join(', ')
  context.say(
    `from identification ${fit.id} of '${fit.document.motor}', ${when} UTC, runs ${runs}${held.join('')}`,
  )
  return fit
}

function find(store: Store, { motor: name, identification }: FitChoice): StoredFit {
  const motor = store.motors.named(name)
  if (identification === undefined) {
    const latest = store.fits.latest(motor.id)
    if (latest) return latest
    throw new InputFault(
      `'${motor.name}' has not been identified yet: rotorfit fit --motor '${motor.name}'`,
    )
  }
  const known = store.fits.list(motor.id).map(({ id }) => id)
  if (known.includes(identification)) return store.fits.get(identification)
  throw new InputFault(
    `--identification ${identification}: '${motor.name}' has ${known.length > 0 ? known.join(', ') : 'none yet'}`,
  )
}
