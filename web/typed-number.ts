/** What a field for a number takes, as the pattern of an input: a decimal comma and a true minus too. */
export const NUMBER_PATTERN =
  '\\s*[+\\-\u2212]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)([eE][+\\-]?[0-9]+)?\\s*'

/** The number that was typed into such a field; NaN where it is none, or nothing. */
export function typedNumber(text: string): number {
  const plain = text.trim().replace(',', '.').replace('\u2212', '-')
  return plain === '' ? Number.NaN : Number(plain)
}
