import { InputFault } from '../../src/base/faults.ts'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { judgeableQuantities, readingOf } from '../../src/quality/judged-quantity.ts'
import type { Limit } from '../../src/records/limits.ts'

const LIMIT = /^\s*([^=:[\]]+?)\s*(?:\[([^\]]*)\])?\s*=\s*(.*?)\s*\.\.\s*(.*?)\s*$/u
const EXAMPLE = "write e.g. 'resistance=-5%..+5%', 'inertia=-3s..3s' or 'insulation [Mohm]=10..'"

/**
 * A limit as typed: `NAME=LOWER..UPPER`, either end may be missing. Ends in `%` are of the reference, ends
 * in `s` sigmas of its pool, others absolute in SI. A quantity that no fit has (an entry by hand) carries
 * its unit in brackets.
 */
export function readLimit(text: string, reference: readonly FitDocument[]): Limit {
  const match = LIMIT.exec(text)
  if (!match) throw new InputFault(`limit '${text}' cannot be read; ${EXAMPLE}`)
  const [, quantity, unitGiven, lowerText, upperText] = match
  const ends = [readEnd(lowerText!, text), readEnd(upperText!, text)]
  const bases = [...new Set(ends.flatMap(end => (end ? [end.basis] : [])))]
  if (bases.length !== 1) {
    throw new InputFault(
      bases.length === 0
        ? `limit '${text}' has neither end; ${EXAMPLE}`
        : `limit '${text}' mixes ${bases.join(' and ')}; give both ends alike`,
    )
  }
  const known = reference.flatMap(fit => readingOf(fit, quantity!) ?? [])[0]
  const unit = unitGiven?.trim() || known?.unit
  if (!unit) {
    const names = [...new Set(reference.flatMap(judgeableQuantities))]
    throw new InputFault(
      `'${quantity}' is no number of the reference (it has ${names.join(', ') || 'none'}); for an entry by hand give its unit, e.g. '${quantity} [Mohm]=10..'`,
    )
  }
  return {
    quantity: quantity!,
    unit,
    basis: bases[0]!,
    lower: ends[0]?.value ?? null,
    upper: ends[1]?.value ?? null,
  }
}

function readEnd(text: string, whole: string): { value: number; basis: Limit['basis'] } | null {
  if (text === '') return null
  const match = /^([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(%|s)?$/.exec(text)
  if (!match) throw new InputFault(`limit '${whole}': '${text}' is not a number; ${EXAMPLE}`)
  const basis = match[2] === '%' ? 'percent' : match[2] === 's' ? 'sigma' : 'absolute'
  return { value: Number(match[1]), basis }
}
