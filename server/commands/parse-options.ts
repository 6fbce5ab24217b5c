import { InvalidArgumentError } from 'commander'
import { isParameterName, PARAMETERS, type ParameterName } from '../../src/records/parameter.ts'
import { isTestKind, TEST_KINDS, type TestKind } from '../../src/records/test-kind.ts'

/** Readers of option values; each refuses with what would be right. */

export function numberOption(minimum: number, maximum: number) {
  return (text: string): number => {
    const value = Number(text)
    if (text.trim() === '' || !Number.isFinite(value) || value < minimum || value > maximum) {
      throw new InvalidArgumentError(`needs a number from ${minimum} to ${maximum}`)
    }
    return value
  }
}

export function integerOption(minimum: number, maximum: number) {
  return (text: string): number => {
    const value = numberOption(minimum, maximum)(text)
    if (!Number.isInteger(value)) throw new InvalidArgumentError('needs a whole number')
    return value
  }
}

export function kindOption(text: string): TestKind {
  if (!isTestKind(text)) throw new InvalidArgumentError(`needs one of ${TEST_KINDS.join(', ')}`)
  return text
}

export function runListOption(text: string): number[] {
  return text.split(',').map(integerOption(1, Number.MAX_SAFE_INTEGER))
}

export function parameterOption(text: string): ParameterName {
  if (!isParameterName(text))
    throw new InvalidArgumentError(`needs one of ${PARAMETERS.join(', ')}`)
  return text
}

/** Parameters that no motor has at nought. */
const ABOVE_NOUGHT: ReadonlySet<ParameterName> = new Set<ParameterName>([
  'resistance',
  'inductance',
  'backEmfConstant',
  'torqueConstant',
  'inertia',
])

/** `NAME=VALUE`, repeatable. */
export function fixOption(
  text: string,
  before: Partial<Record<ParameterName, number>>,
): Partial<Record<ParameterName, number>> {
  const match = /^([^=]+)=(.+)$/.exec(text)
  if (!match) throw new InvalidArgumentError('needs NAME=VALUE, e.g. torqueConstant=0.035, in SI')
  const name = parameterOption(match[1]!.trim())
  const value = numberOption(-1e12, 1e12)(match[2]!)
  if (ABOVE_NOUGHT.has(name) && value <= 0) {
    throw new InvalidArgumentError(`${name} is ${value}; must be above 0`)
  }
  if (name !== 'offsetTorque' && value < 0) {
    throw new InvalidArgumentError(`${name} is ${value}; must not be below 0`)
  }
  return { ...before, [name]: value }
}

export const repeated =
  <T>(read: (text: string) => T) =>
  (text: string, before: readonly T[]): T[] => [...before, read(text)]
