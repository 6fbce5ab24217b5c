import { failure, type Result, success } from '../base/result.ts'
import type { LineFault } from './line-fault.ts'

/** Keys and values of one line, read on demand; the first thing wrong with any of them is kept. */
export class Fields {
  private readonly values: ReadonlyMap<string, string>
  private readonly unread: Set<string>
  private fault: LineFault | null = null

  constructor(values: ReadonlyMap<string, string>) {
    this.values = values
    this.unread = new Set(values.keys())
  }

  has(key: string): boolean {
    return this.values.has(key)
  }

  text(key: string): string {
    const value = this.values.get(key)
    this.unread.delete(key)
    if (value === undefined) this.wrong({ code: 'missing-key', key })
    return value ?? ''
  }

  word<W extends string>(key: string, known: readonly W[]): W {
    const received = this.text(key)
    const word = known.find(w => w === received)
    if (word === undefined) this.wrong({ code: 'unknown-word', field: key, received, known })
    return word ?? known[0]!
  }

  /** `0` or `1` (P-3.6). */
  flag(key: string): boolean {
    return this.word(key, ['0', '1']) === '1'
  }

  integer(key: string, low: number, high: number): number {
    const received = this.text(key)
    const value = parseInteger(received)
    if (value === null) return this.wrong({ code: 'not-a-number', field: key, received })
    return this.inRange(key, value, low, high)
  }

  decimal(key: string, low = -Number.MAX_VALUE, high = Number.MAX_VALUE): number {
    const received = this.text(key)
    const value = parseDecimal(received)
    if (value === null) return this.wrong({ code: 'not-a-number', field: key, received })
    return this.inRange(key, value, low, high)
  }

  /** Where the key may be left out. */
  optional<T>(key: string, read: (key: string) => T, otherwise: T): T {
    return this.has(key) ? read(key) : otherwise
  }

  /** What was read, or the first fault. `strict` also refuses keys that nobody asked for. */
  finish<T>(value: T, strict = false): Result<T, LineFault> {
    if (this.fault) return failure(this.fault)
    const [key] = this.unread
    return strict && key !== undefined ? failure({ code: 'unknown-key', key }) : success(value)
  }

  private inRange(field: string, received: number, low: number, high: number): number {
    if (received >= low && received <= high) return received
    return this.wrong({ code: 'out-of-range', field, received, low, high })
  }

  private wrong(fault: LineFault): number {
    this.fault ??= fault
    return Number.NaN
  }
}

const KEY = /^[a-z][a-z0-9-]*$/

/** Reads `key=value key="some text"` from `text[at …)` (P-3.5). */
export function parseFields(text: string, at: number): Result<Fields, LineFault> {
  const values = new Map<string, string>()
  let i = at
  while (i < text.length) {
    const equals = text.indexOf('=', i)
    const key = equals < 0 ? text.slice(i) : text.slice(i, equals)
    if (equals < 0 || !KEY.test(key)) {
      return failure({ code: 'syntax', field: 'key=value', received: text.slice(i, i + 40) })
    }
    if (values.has(key)) return failure({ code: 'repeated-key', key })
    const quoted = text[equals + 1] === '"'
    const from = quoted ? equals + 2 : equals + 1
    const found = text.indexOf(quoted ? '"' : ' ', from)
    const to = found < 0 && !quoted ? text.length : found
    const next = quoted ? to + 1 : to
    const value = text.slice(from, to)
    const closed = to >= from && (next === text.length || text[next] === ' ')
    if (!closed || (!quoted && (value === '' || value.includes('"')))) {
      return failure({ code: 'syntax', field: key, received: text.slice(from, from + 40) })
    }
    values.set(key, value)
    i = next + 1
    if (i === text.length) {
      return failure({ code: 'syntax', field: 'end of line', received: ' ' })
    }
  }
  return success(new Fields(values))
}

/** Decimal digits with an optional minus, no leading zeros, no -0 (P-3.6); null where it is not that. */
export function parseInteger(text: string): number | null {
  return /^(0|-?[1-9][0-9]{0,14})$/.test(text) ? Number(text) : null
}

export function parseDecimal(text: string): number | null {
  if (!/^-?[0-9]{1,15}(\.[0-9]{1,15})?(e-?[0-9]{1,3})?$/.test(text)) return null
  const value = Number(text)
  return Number.isFinite(value) ? value : null
}

/** A key with its value; text is quoted where it has to be. */
export function field(key: string, value: string | number | boolean): string {
  if (typeof value === 'boolean') return `${key}=${value ? 1 : 0}`
  return `${key}=${value}`
}

/** A key with quoted text. What a line cannot hold (quotes, stars, anything not ASCII) becomes '?'. */
export function quotedField(key: string, text: string): string {
  return `${key}="${text.replace(/[^ -~]|["*]/g, '?')}"`
}
