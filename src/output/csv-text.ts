/**
 * One row of CSV (RFC 4180). Text that a spreadsheet would take for a formula is set behind an
 * apostrophe; numbers are left as they are.
 */
export function csvRow(cells: readonly (string | number | null)[]): string {
  return `${cells.map(csvCell).join(',')}\r\n`
}

function csvCell(cell: string | number | null): string {
  if (cell === null) return ''
  if (typeof cell === 'number') return Number.isFinite(cell) ? String(cell) : ''
  const safe = /^[=+\-@\t\r]/.test(cell) ? `'${cell}` : cell
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe
}
