/** The import's fields on the page, for the options of the command that the readers of files speak of. */
const FIELDS: readonly (readonly [RegExp, string])[] = [
  [/--decimal (comma|point)/g, "'Decimal sign: $1'"],
  [/--interval(?: <s>)?/g, "'Seconds from row to row'"],
  [/--columns '(\w+)=…:([^']+)'/g, "the unit '$2' for the column of the $1"],
  [/with --columns/g, 'in the table of columns'],
  [/--columns/g, 'the table of columns'],
]

/** A word of a file's reader as the page shows it, where there are fields instead of options. */
export function inPageWords(text: string): string {
  return FIELDS.reduce((words, [option, field]) => words.replace(option, field), text)
}
