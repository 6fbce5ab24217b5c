import { readFileSync } from 'node:fs'

/** What tests read from the protocol's own page. */
const PAGE = readFileSync(new URL('../../firmware-protocol.md', import.meta.url), 'utf8')

export interface PageExample {
  readonly from: 'rig' | 'host'
  readonly line: string
  readonly pageLine: number
}

/** Every line of the blocks marked `rig` or `host`. */
export function pageExamples(): PageExample[] {
  const examples: PageExample[] = []
  let from: 'rig' | 'host' | null = null
  PAGE.split('\n').forEach((line, index) => {
    if (line.startsWith('```')) {
      const mark = line.slice(3)
      from = mark === 'rig' || mark === 'host' ? mark : null
    } else if (from) examples.push({ from, line, pageLine: index + 1 })
  })
  return examples
}

/** Numbers of all clauses, as they stand on the page. */
export function pageClauses(): string[] {
  return [...PAGE.matchAll(/^\*\*(P-\d+\.\d+)\*\*/gm)].map(match => match[1]!)
}

/** First cells of the table that follows a clause. */
export function pageTable(clause: string): string[] {
  const start = PAGE.indexOf(`**${clause}**`)
  const rows = /\n\|[^\n]*\n\|[-| ]*\n((?:\|[^\n]*\n)+)/.exec(PAGE.slice(start))
  return (rows?.[1] ?? '')
    .trim()
    .split('\n')
    .map(row => row.split('|')[1]!.trim().replaceAll('`', ''))
}

/** The host blocks and rig blocks of the page as one stream of bytes. */
export function asBytes(lines: readonly string[], lineEnd = '\n'): Uint8Array {
  return new TextEncoder().encode(lines.map(line => line + lineEnd).join(''))
}
