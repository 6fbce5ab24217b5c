import { describe, expect, test } from 'vitest'
import {
  chiSquareP,
  chiSquareQuantile,
  coverageFactor,
  fP,
  fQuantile,
  normalProbability,
  normalQuantile,
  studentQuantile,
  studentTwoSidedP,
} from '../../src/statistics/distributions.ts'
import { expectRelative } from '../support/expect-relative.ts'

/** Degrees of freedom, then factors for 68.27, 90, 95, 95.45, 99 and 99.73 %, as printed. */
const T_TABLE = [
  [1, 1.84, 6.31, 12.71, 13.97, 63.66, 235.8],
  [2, 1.32, 2.92, 4.3, 4.53, 9.92, 19.21],
  [3, 1.2, 2.35, 3.18, 3.31, 5.84, 9.22],
  [4, 1.14, 2.13, 2.78, 2.87, 4.6, 6.62],
  [5, 1.11, 2.02, 2.57, 2.65, 4.03, 5.51],
  [6, 1.09, 1.94, 2.45, 2.52, 3.71, 4.9],
  [7, 1.08, 1.89, 2.36, 2.43, 3.5, 4.53],
  [8, 1.07, 1.86, 2.31, 2.37, 3.36, 4.28],
  [9, 1.06, 1.83, 2.26, 2.32, 3.25, 4.09],
  [10, 1.05, 1.81, 2.23, 2.28, 3.17, 3.96],
  [11, 1.05, 1.8, 2.2, 2.25, 3.11, 3.85],
  [12, 1.04, 1.78, 2.18, 2.23, 3.05, 3.76],
  [13, 1.04, 1.77, 2.16, 2.21, 3.01, 3.69],
  [14, 1.04, 1.76, 2.14, 2.2, 2.98, 3.64],
  [15, 1.03, 1.75, 2.13, 2.18, 2.95, 3.59],
  [16, 1.03, 1.75, 2.12, 2.17, 2.92, 3.54],
  [17, 1.03, 1.74, 2.11, 2.16, 2.9, 3.51],
  [18, 1.03, 1.73, 2.1, 2.15, 2.88, 3.48],
  [19, 1.03, 1.73, 2.09, 2.14, 2.86, 3.45],
  [20, 1.03, 1.72, 2.09, 2.13, 2.85, 3.42],
  [25, 1.02, 1.71, 2.06, 2.11, 2.79, 3.33],
  [30, 1.02, 1.7, 2.04, 2.09, 2.75, 3.27],
  [35, 1.01, 1.7, 2.03, 2.07, 2.72, 3.23],
  [40, 1.01, 1.68, 2.02, 2.06, 2.7, 3.2],
  [45, 1.01, 1.68, 2.01, 2.06, 2.69, 3.18],
  [50, 1.01, 1.68, 2.01, 2.05, 2.68, 3.16],
] as const
/** 68.27, 95.45 and 99.73 % stand for one, two and three standard deviations of a normal distribution. */
const LEVELS = [0.682689492, 0.9, 0.95, 0.954499736, 0.99, 0.997300204] as const
/** The one entry whose last digit is off: 1.6896 rounds to 1.69. */
const MISPRINT = { freedom: 35, printed: 1.7 } as const
const T_SOURCE = 'NIST TN 1297 Table B.1, the same as GUM Table G.2'

describe(`t factors (${T_SOURCE})`, () => {
  test.each(T_TABLE)('%d degrees of freedom', (freedom, ...factors) => {
    for (const [i, printed] of factors.entries()) {
      if (freedom === MISPRINT.freedom && printed === MISPRINT.printed) continue
      expect(Math.abs(coverageFactor(freedom, LEVELS[i]!) - printed)).toBeLessThan(0.0051)
    }
  })

  test('100 degrees of freedom are printed to three places', () => {
    for (const [i, printed] of [1.005, 1.66, 1.984, 2.025, 2.626, 3.077].entries()) {
      expect(Math.abs(coverageFactor(100, LEVELS[i]!) - printed)).toBeLessThan(0.00051)
    }
  })

  test('infinitely many are normal', () => {
    for (const [i, printed] of [1, 1.645, 1.96, 2, 2.576, 3].entries()) {
      expect(Math.abs(coverageFactor(Number.POSITIVE_INFINITY, LEVELS[i]!) - printed)).toBeLessThan(
        0.00051,
      )
    }
  })
})

/** Degrees of freedom, then upper critical values for 0.10, 0.05, 0.025, 0.01 and 0.001. */
const CHI_SQUARE_TABLE = [
  [1, 2.706, 3.841, 5.024, 6.635, 10.828],
  [2, 4.605, 5.991, 7.378, 9.21, 13.816],
  [3, 6.251, 7.815, 9.348, 11.345, 16.266],
  [4, 7.779, 9.488, 11.143, 13.277, 18.467],
  [5, 9.236, 11.07, 12.833, 15.086, 20.515],
  [6, 10.645, 12.592, 14.449, 16.812, 22.458],
  [7, 12.017, 14.067, 16.013, 18.475, 24.322],
  [8, 13.362, 15.507, 17.535, 20.09, 26.125],
  [9, 14.684, 16.919, 19.023, 21.666, 27.877],
  [10, 15.987, 18.307, 20.483, 23.209, 29.588],
  [20, 28.412, 31.41, 34.17, 37.566, 45.315],
  [30, 40.256, 43.773, 46.979, 50.892, 59.703],
  [50, 63.167, 67.505, 71.42, 76.154, 86.661],
  [100, 118.498, 124.342, 129.561, 135.807, 149.449],
] as const
const UPPER_TAILS = [0.1, 0.05, 0.025, 0.01, 0.001] as const
/** The same for the lower side: 0.05, 0.025 and 0.01. */
const CHI_SQUARE_LOWER = [
  [1, 0.004, 0.001, 0],
  [5, 1.145, 0.831, 0.554],
  [10, 3.94, 3.247, 2.558],
  [30, 18.493, 16.791, 14.953],
] as const

describe('critical values of χ² (NIST/SEMATECH e-Handbook 1.3.6.7.4, from memory)', () => {
  test.each(CHI_SQUARE_TABLE)('%d degrees of freedom, above', (freedom, ...values) => {
    for (const [i, printed] of values.entries()) {
      expect(Math.abs(chiSquareQuantile(1 - UPPER_TAILS[i]!, freedom) - printed)).toBeLessThan(6e-4)
    }
  })

  test.each(CHI_SQUARE_LOWER)('%d degrees of freedom, below', (freedom, ...values) => {
    for (const [i, printed] of values.entries()) {
      expect(Math.abs(chiSquareQuantile(UPPER_TAILS[i + 1]!, freedom) - printed)).toBeLessThan(6e-4)
    }
  })
})

const checks = [
  {
    name: 'χ² 0.95, 9 degrees of freedom',
    got: () => chiSquareQuantile(0.95, 9),
    want: 16.919,
    tolerance: 5e-6,
    source:
      'NIST/SEMATECH e-Handbook 7.2.3 prints 16.92; 16.919 in its table 1.3.6.7.4 (from memory)',
  },
  {
    name: 'χ² 0.95, 1 degree of freedom is 1.959964²',
    got: () => chiSquareQuantile(0.95, 1),
    want: 3.8414588206941236,
    tolerance: 1e-13,
    source: 'square of the normal quantile',
  },
  {
    name: 'χ² 0.99, 2 degrees of freedom is −2 ln 0.01',
    got: () => chiSquareQuantile(0.99, 2),
    want: -2 * Math.log(0.01),
    tolerance: 1e-13,
    source: 'closed form for two degrees of freedom',
  },
  {
    name: 'χ² 0.05, 10 degrees of freedom',
    got: () => chiSquareQuantile(0.05, 10),
    want: 3.94,
    tolerance: 1e-4,
    source: 'NIST/SEMATECH e-Handbook 1.3.6.7.4 prints 3.940 (from memory)',
  },
  {
    name: 'F 0.95 (11, 9)',
    got: () => fQuantile(0.95, 11, 9),
    want: 3.1025,
    tolerance: 2e-4,
    source: 'common F tables (from memory)',
  },
  {
    name: 'F 0.975 (11, 9)',
    got: () => fQuantile(0.975, 11, 9),
    want: 3.9121,
    tolerance: 2e-3,
    source: 'common F tables (from memory)',
  },
  {
    name: 't of one degree of freedom is tan(π(p − 1/2))',
    got: () => studentQuantile(0.975, 1),
    want: Math.tan(0.475 * Math.PI),
    tolerance: 1e-12,
    source: 'Cauchy distribution',
  },
  {
    name: 'critical t of the two-sample example, 326 degrees of freedom',
    got: () => studentQuantile(0.975, 326),
    want: 1.9673,
    tolerance: 2e-5,
    source: 'NIST/SEMATECH e-Handbook 1.3.5.3',
  },
  {
    name: 'normal quantile 0.975',
    got: () => normalQuantile(0.975),
    want: 1.959963984540054,
    tolerance: 1e-14,
    source: 'tables of the normal distribution',
  },
]
test.each(checks)('$name ($source)', ({ got, want, tolerance }) =>
  expectRelative(got(), want, tolerance),
)

test('far tails keep their digits', () => {
  // T = −12.62059 with 326 degrees of freedom, NIST/SEMATECH e-Handbook 1.3.5.3; p recomputed to 11 digits
  expectRelative(studentTwoSidedP(-12.620591288724, 326), 5.2729354566e-30, 1e-8)
  expectRelative(fP(12.620591288724 ** 2, 1, 326), 5.2729354566e-30, 1e-8)
})

test('probabilities invert quantiles', () => {
  expectRelative(chiSquareP(chiSquareQuantile(0.3, 7), 7), 0.7, 1e-12)
  expectRelative(fP(fQuantile(0.2, 4, 6), 4, 6), 0.8, 1e-12)
  expectRelative(normalProbability(normalQuantile(0.123)), 0.123, 1e-13)
})
