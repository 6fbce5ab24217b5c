import { InputFault } from '../../src/base/faults.ts'
import type { FitBody } from '../../src/contract/http-motors.ts'
import { isParameterName, PARAMETERS, type ParameterName } from '../../src/records/parameter.ts'
import type { FitInput } from '../jobs/fit-job.ts'

/** At which R, L and k are reported where nobody says otherwise. */
const REFERENCE_CELSIUS = 20

/** What a page asks of an identification, as the job takes it. */
export function fitJobInput(storeFile: string, motor: string, body: FitBody): FitInput {
  const { runs, fix, free, referenceTemperatureCelsius, ...laws } = body
  const fixed: Partial<Record<ParameterName, number>> = {}
  for (const [name, value] of Object.entries(fix ?? {})) fixed[parameter(name)] = value
  return {
    storeFile,
    motor,
    runIds: runs ?? null,
    settings: {
      fixed,
      freed: (free ?? []).map(parameter),
      referenceTemperatureCelsius: referenceTemperatureCelsius ?? REFERENCE_CELSIUS,
      ...laws,
    },
  }
}

function parameter(name: string): ParameterName {
  if (isParameterName(name)) return name
  throw new InputFault(`'${name}' is no parameter; known: ${PARAMETERS.join(', ')}`)
}
