import type { z } from 'zod'

type Issue = z.core.$ZodIssue

const NOUNS: Readonly<Record<string, string>> = {
  string: 'a text',
  number: 'a number',
  int: 'a whole number',
  boolean: 'true or false',
  object: 'an object',
  array: 'a list',
  record: 'an object',
}

/** What would be right, in words of ours: `needs a number`, `needs one of simple, conformity`. */
export function requestWords(issue: Issue): string {
  switch (issue.code) {
    case 'invalid_type':
      return issue.input === undefined
        ? `is missing; needs ${NOUNS[issue.expected] ?? 'a value'}`
        : `needs ${NOUNS[issue.expected] ?? 'another value'}`
    case 'too_small':
      return `needs ${rangeWords(issue.origin, issue.inclusive === false ? 'more than' : 'at least', issue.minimum)}`
    case 'too_big':
      return `needs ${rangeWords(issue.origin, issue.inclusive === false ? 'less than' : 'at most', issue.maximum)}`
    case 'invalid_value':
      return `needs ${issue.values.length > 1 ? 'one of ' : ''}${issue.values.map(String).join(', ')}`
    case 'unrecognized_keys':
      return `${issue.keys.join(', ')}: not known here`
    case 'not_multiple_of':
      return `needs a multiple of ${issue.divisor}`
    case 'invalid_union': {
      const named = issue.errors.flatMap(each => each.slice(0, 1).map(requestWords))
      return named.length > 0
        ? [...new Set(named)].join(', or ')
        : 'is none of the kinds known here'
    }
    default:
      return 'is not as it should be'
  }
}

const COUNTED: Readonly<Record<string, readonly [one: string, many: string]>> = {
  string: ['character', 'characters'],
  array: ['entry', 'entries'],
}

function rangeWords(origin: string, how: string, bound: number | bigint): string {
  const [one, many] = COUNTED[origin] ?? []
  return [how, bound, Number(bound) === 1 ? one : many].filter(word => word !== undefined).join(' ')
}
