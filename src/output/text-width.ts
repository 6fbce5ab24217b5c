/**
 * Width of a text in points, for breaking lines: an estimate from classes of letters, a few per cent on
 * the wide side for a humanist sans-serif, since the face on a reader's screen is not known.
 */
export function textWidth(text: string, size: number, bold = false): number {
  let ems = 0
  for (const letter of text) ems += letterWidth(letter)
  return ems * size * (bold ? 1.05 : 1)
}

function letterWidth(letter: string): number {
  if (/[iljI.,:;'!|()[\] ]/.test(letter)) return 0.3
  if (/[frt\-/"°·]/.test(letter)) return 0.4
  if (/[mwMW@%…]/.test(letter)) return 0.9
  if (/[A-Z]/.test(letter)) return 0.66
  // Wide scripts fill the whole square.
  if (letter.codePointAt(0)! >= 0x2e80) return 1
  return 0.55
}

/** Lines that fit a width, broken at blanks; a word that is too long for a line is cut. */
export function wrapText(text: string, size: number, width: number, bold = false): string[] {
  const lines: string[] = []
  for (const paragraph of text.split('\n')) {
    let line = ''
    for (const word of paragraph.split(' ').flatMap(w => cutWord(w, size, width, bold))) {
      const longer = line === '' ? word : `${line} ${word}`
      if (line === '' || textWidth(longer, size, bold) <= width) line = longer
      else {
        lines.push(line)
        line = word
      }
    }
    lines.push(line)
  }
  return lines
}

function cutWord(word: string, size: number, width: number, bold: boolean): string[] {
  if (textWidth(word, size, bold) <= width) return [word]
  const pieces: string[] = []
  let piece = ''
  for (const letter of word) {
    if (piece !== '' && textWidth(piece + letter, size, bold) > width) {
      pieces.push(piece)
      piece = ''
    }
    piece += letter
  }
  return [...pieces, piece]
}
