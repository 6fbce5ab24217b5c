import type { FitDocument } from '../contract/fit-document.ts'
import type { ParameterName } from '../records/parameter.ts'
import type { TestRun } from '../records/test-run.ts'

/** What no test tells without the voltage, however it is driven. */
const BY_VOLTAGE: readonly ParameterName[] = [
  'resistance',
  'inductance',
  'backEmfConstant',
  'brushDrop',
]
const WANTED =
  'no run holds the voltage: measured across the motor beside the current it determines it'

/** The result with words that fit runs of which none holds a voltage: another test of the same kind would not help. */
export function wordedWithoutVoltage(document: FitDocument, runs: readonly TestRun[]): FitDocument {
  if (runs.some(({ recording }) => recording.columns.voltage)) return document
  const parameters = { ...document.parameters }
  for (const name of BY_VOLTAGE) {
    const result = parameters[name]
    if (result.status === 'not-determined') parameters[name] = { ...result, reason: WANTED }
  }
  const warnings = document.warnings.filter(({ code }) => code !== 'assumed-temperature')
  return { ...document, parameters, warnings }
}
