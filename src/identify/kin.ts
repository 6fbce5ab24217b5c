import type { FitDocument } from '../contract/fit-document.ts'
import type { ModelPoint } from '../motor/parameters.ts'
import type { ParameterName } from '../records/parameter.ts'
import { type Search, WHOLE_SEARCH } from './fit-members.ts'
import { modelPoint } from './model-point.ts'

/** Where the search begins beside an identified motor of the same kind, and how far it goes. */
export interface Kin {
  readonly start: ModelPoint
  readonly search: Search
}

/** A step of 0.03 standard uncertainties; below, it mostly finds that transitions hop from sample to sample. */
const LEAST_GAIN = 1e-3

/**
 * Motors of one kind differ by less than such factors. A sample that does not is no reason to doubt it, but the
 * kin is then no start: with other values other minima are near, and the whole search is due.
 */
const ALIKE = {
  resistanceOhm: 1.2,
  backEmfConstantVsPerRad: 1.2,
  inertiaKgM2: 1.2,
  coulombTorqueNm: 1.6,
} as const satisfies Partial<Record<keyof ModelPoint, number>>
const ALIKE_WINDING = { inductanceHenry: 1.2 } as const
const ALIKE_BEND = { brushDropVolt: 1.6, brushKneeAmp: 5 } as const

/** What start values tell roughly need only be roughly alike for a try. */
const ROUGHLY = {
  resistanceOhm: 1.5,
  backEmfConstantVsPerRad: 1.5,
  inertiaKgM2: 2,
} as const satisfies Partial<Record<keyof ModelPoint, number>>

const NEEDED = ['resistance', 'backEmfConstant', 'inertia'] as const

/**
 * Null where the document is of another kind of motor, or knows too little.
 * @param own where the search would begin without a kin
 */
export function kinOf(document: FitDocument, own: ModelPoint): Kin | null {
  const { parameters, model } = document
  const told = (name: ParameterName) => parameters[name].value !== null
  const known = modelPoint(document)
  if (!NEEDED.every(told) || !areAlike(known, own, ROUGHLY)) return null
  const isBent = own.brushKneeAmp > 0 && (model?.brushKneeAmp ?? 0) > 0 && known.brushDropVolt > 0
  // Finer terms begin at nil, as they do without a kin: what they come to is this motor's own.
  const start = {
    ...own,
    resistanceOhm: known.resistanceOhm,
    backEmfConstantVsPerRad: known.backEmfConstantVsPerRad,
    torqueConstantNmPerA: known.torqueConstantNmPerA,
    coulombTorqueNm: known.coulombTorqueNm,
    viscousNmsPerRad: known.viscousNmsPerRad,
    inertiaKgM2: known.inertiaKgM2,
    ...(told('inductance') && { inductanceHenry: known.inductanceHenry }),
    ...(isBent && { brushDropVolt: known.brushDropVolt, brushKneeAmp: known.brushKneeAmp }),
  }
  const factors = {
    ...ALIKE,
    ...(told('inductance') && ALIKE_WINDING),
    ...(isBent && ALIKE_BEND),
  }
  return {
    start,
    search: {
      kneeStarts: isBent ? [1] : WHOLE_SEARCH.kneeStarts,
      leastGain: LEAST_GAIN,
      isNear: motor => areAlike(motor, start, factors),
    },
  }
}

function areAlike(
  a: ModelPoint,
  b: ModelPoint,
  factors: Readonly<Partial<Record<keyof ModelPoint, number>>>,
): boolean {
  return Object.entries(factors).every(([name, factor]) => {
    const [x, y] = [a[name as keyof ModelPoint], b[name as keyof ModelPoint]]
    return x === y || (x <= factor * y && y <= factor * x)
  })
}
