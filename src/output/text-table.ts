/** Columns of a table in plain text; `right` columns are set flush right, as numbers are. */
export interface TextColumn {
  readonly title: string
  readonly align: 'left' | 'right'
}

/** A table for a terminal: two blanks between columns, a rule under the head, no other lines. */
export function textTable(
  columns: readonly TextColumn[],
  rows: readonly (readonly string[])[],
): string {
  const widths = columns.map((column, i) =>
    Math.max(width(column.title), ...rows.map(row => width(row[i] ?? ''))),
  )
  const line = (cells: readonly string[]) =>
    columns
      .map((column, i) => {
        const padding = ' '.repeat(widths[i]! - width(cells[i] ?? ''))
        return column.align === 'right' ? padding + (cells[i] ?? '') : (cells[i] ?? '') + padding
      })
      .join('  ')
      .trimEnd()
  const rule = widths.map(w => '─'.repeat(w)).join('  ')
  return `${[line(columns.map(c => c.title)), rule, ...rows.map(line)].join('\n')}\n`
}

/** Width on a terminal as far as it can be told without its font: code points, wide ones counted twice. */
function width(text: string): number {
  let sum = 0
  for (const character of text) {
    const code = character.codePointAt(0)!
    const isMark = /\p{Mark}|\u200d|\ufe0f/u.test(character)
    const isWide =
      (code >= 0x1100 && code <= 0x115f) || (code >= 0x2e80 && code <= 0xffdc) || code >= 0x1f300
    sum += isMark ? 0 : isWide ? 2 : 1
  }
  return sum
}
