import { failure, type Result, success } from '../base/result.ts'
import { BRIDGE, type BridgeState } from '../records/recording.ts'
import { faultOfSigns, type NumberWriting, plainNumber, unusualNumber } from './csv-numbers.ts'

const GAP = /^(?:nan|n\/a|null)?$/i

/** A cell as a number: NaN for a gap (an empty cell, or the word NaN), failure for anything else that is no finite number. */
export function numberCell(cell: string, writing: NumberWriting): Result<number, string> {
  const text = cell.trim()
  const plain = plainNumber(text, writing)
  if (Number.isFinite(plain)) return success(plain)
  if (GAP.test(text)) return success(Number.NaN)
  const unusual = unusualNumber(text, writing)
  if (Number.isFinite(unusual)) return success(unusual)
  return failure(
    faultOfSigns(shorten(text), writing) ??
      `'${shorten(text)}' is not a number; leave the cell empty for a gap`,
  )
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
