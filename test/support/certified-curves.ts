import type { CurveProblem } from '../../src/numerics/nonlinear-least-squares.ts'
import strd from '../reference/nist-strd-nonlinear.json' with { type: 'json' }
import { SlopeNumber } from './slope-number.ts'

export const CERTIFIED_SOURCE = strd.source
export const CERTIFIED_SETS = strd.sets
export type CertifiedSet = (typeof strd.sets)[number]

type Model = (b: readonly SlopeNumber[], x: readonly number[]) => SlopeNumber

const decay = (rate: SlopeNumber, x: number) => rate.times(-x).exp()
const sum = (...terms: SlopeNumber[]) => terms.reduce((all, term) => all.plus(term))
const polynomial = (b: readonly SlopeNumber[], x: number) =>
  b.reduceRight((all, coefficient) => all.times(x).plus(coefficient))
const bell = (height: SlopeNumber, centre: SlopeNumber, width: SlopeNumber, x: number) =>
  height.times(centre.minus(x).over(width).power(2).times(-1).exp())
const wave = (cosine: SlopeNumber, sine: SlopeNumber, phase: SlopeNumber) =>
  cosine.times(phase.cos()).plus(sine.times(phase.sin()))

const saturating: Model = ([b1, b2], [x]) => b1!.times(decay(b2!, x!).times(-1).plus(1))
const chwirut: Model = ([b1, b2, b3], [x]) => decay(b1!, x!).over(polynomial([b2!, b3!], x!))
const twoBells: Model = ([b1, b2, b3, b4, b5, b6, b7, b8], [x]) =>
  sum(b1!.times(decay(b2!, x!)), bell(b3!, b4!, b5!, x!), bell(b6!, b7!, b8!, x!))
const threeDecays: Model = ([b1, b2, b3, b4, b5, b6], [x]) =>
  sum(b1!.times(decay(b2!, x!)), b3!.times(decay(b4!, x!)), b5!.times(decay(b6!, x!)))
/** Polynomial over polynomial whose constant is 1. */
const ratio =
  (upper: number): Model =>
  (b, [x]) =>
    polynomial(b.slice(0, upper), x!).over(polynomial(b.slice(upper), x!).times(x!).plus(1))
const logistic = ([, b2, b3]: readonly SlopeNumber[], x: number) =>
  b2!.minus(b3!.times(x)).exp().plus(1)

/** The curves as the files state them; Nelson's response is the logarithm of the reading. */
const MODELS: Readonly<Record<string, Model>> = {
  Bennett5: ([b1, b2, b3], [x]) => b1!.times(b2!.plus(x!).log().over(b3!).times(-1).exp()),
  BoxBOD: saturating,
  Chwirut1: chwirut,
  Chwirut2: chwirut,
  DanWood: ([b1, b2], [x]) => b1!.times(b2!.times(Math.log(x!)).exp()),
  ENSO: ([b1, b2, b3, b4, b5, b6, b7, b8, b9], [x]) => {
    const turn = 2 * Math.PI * x!
    const year = b1!.times(0).plus(turn / 12)
    return sum(
      b1!,
      wave(b2!, b3!, year),
      wave(b5!, b6!, b4!.power(-1).times(turn)),
      wave(b8!, b9!, b7!.power(-1).times(turn)),
    )
  },
  Eckerle4: ([b1, b2, b3], [x]) => bell(b1!.over(b2!), b3!, b2!.times(Math.SQRT2), x!),
  Gauss1: twoBells,
  Gauss2: twoBells,
  Gauss3: twoBells,
  Hahn1: ratio(4),
  Kirby2: ratio(3),
  Lanczos1: threeDecays,
  Lanczos2: threeDecays,
  Lanczos3: threeDecays,
  MGH09: ([b1, b2, b3, b4], [x]) =>
    b1!.times(b2!.times(x!).plus(x! * x!)).over(
      b3!
        .times(x!)
        .plus(b4!)
        .plus(x! * x!),
    ),
  MGH10: ([b1, b2, b3], [x]) => b1!.times(b2!.over(b3!.plus(x!)).exp()),
  MGH17: ([b1, b2, b3, b4, b5], [x]) =>
    sum(b1!, b2!.times(decay(b4!, x!)), b3!.times(decay(b5!, x!))),
  Misra1a: saturating,
  Misra1b: ([b1, b2], [x]) =>
    b1!.times(
      b2!
        .times(x! / 2)
        .plus(1)
        .power(-2)
        .times(-1)
        .plus(1),
    ),
  Misra1c: ([b1, b2], [x]) =>
    b1!.times(
      b2!
        .times(2 * x!)
        .plus(1)
        .power(-0.5)
        .times(-1)
        .plus(1),
    ),
  Misra1d: ([b1, b2], [x]) => b1!.times(b2!.times(x!)).over(b2!.times(x!).plus(1)),
  Nelson: ([b1, b2, b3], [x1, x2]) => b1!.minus(b2!.times(x1!).times(decay(b3!, x2!))),
  Rat42: (b, [x]) => b[0]!.over(logistic(b, x!)),
  Rat43: (b, [x]) => b[0]!.times(logistic(b, x!).log().over(b[3]!).times(-1).exp()),
  Roszman1: ([b1, b2, b3, b4], [x]) =>
    b1!.minus(b2!.times(x!)).minus(b3!.over(b4!.times(-1).plus(x!)).atan().over(Math.PI)),
  Thurber: ratio(4),
}

export function responseOf(set: CertifiedSet): Float64Array {
  return Float64Array.from(set.rows, ([y]) => (set.name === 'Nelson' ? Math.log(y!) : y!))
}

/** All values of a set's curve. */
export function curveOf(set: CertifiedSet, parameters: ArrayLike<number>): SlopeNumber[] {
  const b = SlopeNumber.parameters(parameters)
  return set.rows.map(row => MODELS[set.name]!(b, row.slice(1)))
}

export function problemOf(set: CertifiedSet): CurveProblem {
  return {
    data: responseOf(set),
    values: p => Float64Array.from(curveOf(set, p), ({ value }) => value),
    slopes: p => {
      const curve = curveOf(set, p)
      return [...p].map((_, j) => Float64Array.from(curve, ({ slopes }) => slopes[j]!))
    },
  }
}
