import { InputFault, StoppedFault } from '../../src/base/faults.ts'
import { CAUTIONS } from '../../src/procedure/cautions.ts'
import type { CommandContext } from './context.ts'

/**
 * Shows the cautions and waits for a person to acknowledge them. Throws where there is no terminal to ask
 * at, or the person does not.
 */
export async function askCautions(context: CommandContext): Promise<void> {
  if (!context.interactive) {
    throw new InputFault(
      'the cautions have to be acknowledged at a terminal (or on the page) before a real motor is driven; this is none',
    )
  }
  for (const caution of CAUTIONS) context.say(`${caution.title}\n    ${caution.text}`)
  const answer = await context.ask(
    "Type 'yes' if you have read and understood the cautions and may run this bench: ",
  )
  if (answer.trim().toLowerCase() !== 'yes') {
    throw new StoppedFault('the cautions were not acknowledged; nothing was driven')
  }
}
