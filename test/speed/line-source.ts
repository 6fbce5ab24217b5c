import { openPseudoTerminal } from '../../server/link/pseudo-terminal.ts'
import { type LineForm, rigLines } from './rig-lines.ts'

/**
 * A process that pours the same lines into a pseudo-terminal, as fast as they are read, whenever a line
 * feed comes: `line-source.ts FORM LINES SEED`. Prints the path; ends with its standard input.
 */
const [form = 'block', lines = '1', seed = '1'] = process.argv.slice(2)
const { bytes } = rigLines(form as LineForm, Number(lines), Number(seed))
const terminal = openPseudoTerminal({ eager: true })
terminal.onBytes(() => terminal.write(bytes))
process.stdout.write(`${terminal.path}\n`)
process.stdin.on('end', () => process.exit(0))
process.stdin.resume()
