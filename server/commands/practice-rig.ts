import type { Command } from 'commander'
import { createInterface } from 'node:readline'
import { StoppedFault } from '../../src/base/faults.ts'
import { HAND_WORDS, readHandAct } from '../rig-host/hand-act.ts'
import { loadPracticeMotor } from '../rig-host/motor-file.ts'
import { startPracticeRig } from '../rig-host/start-practice-rig.ts'
import type { CommandContext } from './context.ts'
import { integerOption } from './parse-options.ts'

interface PracticeRigOptions {
  readonly motorFile?: string
  readonly seed: number
  readonly link?: string
  readonly troubles?: string
}

export function addPracticeRigCommand(program: Command, context: CommandContext): void {
  program
    .command('practice-rig')
    .description('a simulated rig behind a pseudo-terminal; prints its path')
    .option('--motor-file <file.json>', 'the motor behind it, see datasets/motors')
    .option('--seed <number>', 'of its noise', integerOption(0, 2 ** 31 - 1), 1)
    .option('--link <path>', 'a symbolic link that always leads to it')
    .option('--troubles <rates>', "of its line, a byte: 'lost=1e-5 flipped=1e-5 added=1e-6'")
    .addHelpText(
      'after',
      `\nWhile it runs, a line on standard input does what hands or bad luck would:\n${HAND_WORDS}`,
    )
    .action(async (options: PracticeRigOptions) => {
      const troubles =
        options.troubles === undefined ? null : readHandAct(`troubles ${options.troubles}`)
      const motor = await loadPracticeMotor(options.motorFile ?? null)
      const rig = await startPracticeRig({
        via: 'pseudo-terminal',
        motor,
        seed: options.seed,
        linkPath: options.link ?? null,
      })
      if (troubles !== null) await rig.do(troubles)
      context.say(`simulated rig with '${motor.name}' of ${motor.maker}; ends with Ctrl-C`)
      context.out(`${options.link ?? rig.path}\n`)
      const input = createInterface({ input: process.stdin })
      input.on('line', line => {
        if (line.trim() === '') return
        try {
          rig.do(readHandAct(line)).then(
            () => context.say('done'),
            error => context.say(error.message),
          )
        } catch (error) {
          context.say((error as Error).message)
        }
      })
      // A timer keeps the program alive when standard input has ended.
      const alive = setInterval(() => {}, 2 ** 30)
      await new Promise<void>(resolve => {
        if (context.interrupted.aborted) resolve()
        context.interrupted.addEventListener('abort', () => resolve(), { once: true })
      })
      clearInterval(alive)
      input.close()
      await rig.close()
      throw new StoppedFault('the practice rig was ended')
    })
}
