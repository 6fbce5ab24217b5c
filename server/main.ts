#!/usr/bin/env node
import { runCommandLine } from './commands/command-line.ts'
import { terminalContext } from './commands/terminal-context.ts'

process.exitCode = await runCommandLine(process.argv.slice(2), terminalContext(process))
