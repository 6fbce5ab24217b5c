import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

/** ngspice, where it is installed: a simulator that has nothing of this project in it. */
export const hasNgspice = spawnSync('ngspice', ['--version']).status === 0

/** Runs a deck with its `.tran` line and returns time and the expressions asked for, as columns. */
export function runNgspice(deck: string, expressions: readonly string[]): Float64Array[] {
  const folder = mkdtempSync(join(tmpdir(), 'rotorfit-spice-'))
  try {
    const out = join(folder, 'out.txt')
    const file = join(folder, 'deck.cir')
    const control = [
      '.control',
      'set wr_singlescale',
      'set numdgt=12',
      'option numdgt=12',
      'run',
      `wrdata ${out} ${expressions.join(' ')}`,
      '.endc',
      '.end',
    ]
    writeFileSync(file, `practice\n${deck}\n${control.join('\n')}\n`)
    const { status, stdout, stderr } = spawnSync('ngspice', ['-b', file], {
      encoding: 'utf8',
      timeout: 60_000,
    })
    let text: string
    try {
      text = readFileSync(out, 'utf8')
    } catch {
      throw new Error(`ngspice ended with ${status}\n${stdout}\n${stderr}`)
    }
    const rows = text
      .trim()
      .split('\n')
      .map(line => line.trim().split(/\s+/).map(Number))
    return rows[0]!.map((_, column) => Float64Array.from(rows, row => row[column]!))
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}
