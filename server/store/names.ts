import { InputFault, MissingFault } from '../../src/base/faults.ts'

export const NAME_LENGTH = 120

/** Control characters, line separators, lone surrogates, and marks that turn the writing direction. */
const UNPRINTABLE = /[\p{Cc}\p{Cs}\u2028\u2029\u202a-\u202e\u2066-\u2069]|^[\s\p{Cf}]+$/u

/**
 * A name as it is stored: without space around it, in composed form, so that the same letters are the
 * same name whatever keyboard they came from. Any script, quotes, slashes and emoji will do.
 */
export function checkedName(noun: string, given: string): string {
  const name = given.trim().normalize('NFC')
  const length = [...name].length
  if (UNPRINTABLE.test(name)) {
    throw new InputFault(
      `the name of a ${noun} may not hold control characters; got ${JSON.stringify(given.slice(0, NAME_LENGTH))}`,
    )
  }
  if (length < 1 || length > NAME_LENGTH) {
    throw new InputFault(
      `the name of a ${noun} has 1 to ${NAME_LENGTH} characters; got ${length === 0 ? 'none' : length}`,
    )
  }
  return name
}

interface Named {
  readonly id: number
  readonly name: string
}

/** How records are found by name, and how a new name is accepted: the same for every noun that has one. */
export function nameRules<Row extends Named>(
  noun: string,
  byName: (name: string) => Row | undefined,
  allNames: () => readonly string[],
) {
  return {
    find: (given: string): Row | null => byName(checkedName(noun, given)) ?? null,
    named: (given: string): Row => {
      const name = checkedName(noun, given)
      const found = byName(name)
      if (!found) throw unknownName(noun, name, allNames())
      return found
    },
    /** The name as it will be stored. Refused where another record than `ownId` has it. */
    free: (given: string, ownId: number | null): string => {
      const name = checkedName(noun, given)
      const other = byName(name)
      if (other && other.id !== ownId) {
        throw new InputFault(`a ${noun} named '${name}' exists already; choose another name`)
      }
      return name
    },
  }
}

/** Says what there is instead, as far as a line holds it. */
function unknownName(noun: string, name: string, known: readonly string[]): InputFault {
  const shown = known.slice(0, 8).map(each => `'${each}'`)
  const more = known.length > shown.length ? ` and ${known.length - shown.length} more` : ''
  const there =
    shown.length > 0 ? `the store has ${shown.join(', ')}${more}` : 'the store has none yet'
  return new InputFault(`no ${noun} named '${name}'; ${there}`)
}

export const unknownId = (noun: string, id: number): MissingFault =>
  new MissingFault(`no ${noun} ${id} in the store`)

/** A record with some fields changed; a field that is undefined stays as it was. */
export function changed<T extends object>(record: T, changes: Partial<T>): T {
  const given = Object.entries(changes).filter(([, value]) => value !== undefined)
  return { ...record, ...Object.fromEntries(given) }
}
