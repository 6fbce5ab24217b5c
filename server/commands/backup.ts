import type { Command } from 'commander'
import { type CommandContext, type StoreOption, usingStore, withStore } from './context.ts'

export function addBackupCommand(program: Command, context: CommandContext): void {
  withStore(program.command('backup <file>'))
    .description('copy the whole store, also while it is in use')
    .option('--force', 'overwrite the file')
    .action((file: string, options: StoreOption & { force?: boolean }) =>
      usingStore(context, options, async store => {
        await store.backup(file, { force: options.force === true })
        context.say(`copied to ${file}`)
      }),
    )
}
