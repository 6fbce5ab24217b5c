const LONGEST = 120

/**
 * Text from outside made safe for a terminal and short enough for one line: control characters
 * (escape sequences among them) and bidirectional overrides become `\xHH` or `\u{…}`.
 */
export function printable(text: string, longest = LONGEST): string {
  const safe = text.replace(
    /[\u0000-\u001f\u007f-\u009f\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff]/g,
    escapeOf,
  )
  return safe.length <= longest ? safe : `${safe.slice(0, longest)}…`
}

function escapeOf(character: string): string {
  const code = character.charCodeAt(0)
  return code < 0x100 ? `\\x${code.toString(16).padStart(2, '0')}` : `\\u{${code.toString(16)}}`
}
