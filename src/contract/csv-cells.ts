import { failure, type Result, success } from '../base/result.ts'
import { BRIDGE, type BridgeState } from '../records/recording.ts'

const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/
const GAP = /^(?:nan|n\/a|null)?$/i

/**
 * A cell as a number: NaN for a gap (an empty cell, or the word NaN), failure for anything else that is
 * no finite number. With `decimalComma`, `1,5` is one and a half.
 */
export function numberCell(cell: string, decimalComma: boolean): Result<number, string> {
  const text = cell.trim()
  const plain = decimalComma ? text.replace(',', '.') : text
  if (NUMBER.test(plain)) {
    const value = Number(plain)
    if (Number.isFinite(value)) return success(value)
  }
  if (GAP.test(text)) return success(Number.NaN)
  return failure(`'${shorten(text)}' is not a number; leave the cell empty for a gap`)
}

/** A cell of the bridge column as its code; an empty cell is `unknown`. */
export function bridgeCell(cell: string): Result<number, string> {
  const word = cell.trim().toLowerCase()
  if (word === '') return success(BRIDGE.unknown)
  if (word in BRIDGE) return success(BRIDGE[word as BridgeState])
  return failure(`'${shorten(word)}' is no state of the bridge; write drive, coast or brake`)
}

/** At most 40 characters of a foreign text, control characters made visible, for a one-line message. */
export function shorten(text: string): string {
  const visible = text.replace(/[\u0000-\u001f\u007f-\u009f\u2028\u2029]/g, '\ufffd')
  return visible.length > 40 ? `${visible.slice(0, 39)}…` : visible
}
