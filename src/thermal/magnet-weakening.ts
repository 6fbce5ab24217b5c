import { coastVoltage, type SampleRange } from '../analysis/coast-voltage.ts'
import type { MagnetName } from '../contract/heat-names.ts'
import { findPhases } from '../signals/phases.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import { lineWithBothErrors } from '../statistics/straight-line.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'

/** A back-EMF constant from open terminals and how warm the magnets were. */
export interface WarmConstant {
  readonly celsius: number
  readonly celsiusUncertainty: number
  readonly constant: Estimate
}

/** k(T) = k_20 (1 + α (T − 20)). */
export interface MagnetWeakening {
  readonly basis: 'measured' | 'declared'
  readonly perKelvin: number
  readonly standardUncertainty: number
  /** k at 20 degC, V s/rad; null where only the coefficient was declared. */
  readonly constantAt20: number | null
  readonly degreesOfFreedom: number
}

/**
 * Usual reversible coefficients of the flux of magnet materials, per kelvin, with the spread seen between
 * grades. Sources: ferrite, samarium-cobalt: Modelica Standard Library, permanent magnet materials;
 * neodymium −0.09 to −0.12 %/K, alnico −0.02 %/K: makers' pages (common practice).
 */
export const MAGNET_MATERIALS = {
  ferrite: { perKelvin: -2.0e-3, standardUncertainty: 1e-4 },
  neodymium: { perKelvin: -1.1e-3, standardUncertainty: 1e-4 },
  'samarium-cobalt': { perKelvin: -3.5e-4, standardUncertainty: 5e-5 },
  alnico: { perKelvin: -2e-4, standardUncertainty: 5e-5 },
} as const satisfies Record<MagnetName, { perKelvin: number; standardUncertainty: number }>

export type MagnetMaterial = keyof typeof MAGNET_MATERIALS

export function isMagnetMaterial(name: string): name is MagnetMaterial {
  return name in MAGNET_MATERIALS
}

/** Temperatures of the magnets have to lie at least so far apart. */
const LEAST_SPAN_KELVIN = 10
/** A coefficient less certain than this says nothing: magnets lie between 0 and −0.25 %/K. */
const MOST_UNCERTAIN = 5e-4
/** The commutation's ripple and the pose of the rotor leave so much, as a share. Common practice, no source. */
const LEAST_SHARE = 3e-4

/** k of every stretch in which the shaft coasts with open terminals, and the samples it lies in. */
export function coastConstants(
  signals: RunSignals,
): { readonly start: number; readonly end: number; readonly constant: Estimate }[] {
  if (!signals.speed || !signals.voltage) return []
  return coastStretches(signals).flatMap(range => {
    const found = coastVoltage(signals, [range])
    return found ? [{ ...range, constant: found.constant }] : []
  })
}

/** Samples between two phases that belong together. */
const SEAM = 16
const FEWEST_SAMPLES = 100

/** Where no edges were logged, ripple may cut one coast into many phases. */
function coastStretches(signals: RunSignals): SampleRange[] {
  const joined: { start: number; end: number }[] = []
  for (const { kind, start, end } of findPhases(signals).phases) {
    if (kind !== 'coast') continue
    const last = joined.at(-1)
    if (last && start - last.end < SEAM) last.end = end
    else joined.push({ start, end })
  }
  return joined.filter(({ start, end }) => end - start >= FEWEST_SAMPLES)
}

/** Straight line of k over temperature, errors in both; why not, where it cannot be told. */
export function magnetWeakening(
  constants: readonly WarmConstant[],
): { weakening: MagnetWeakening } | { reason: string } {
  const celsius = constants.map(each => each.celsius)
  const span = constants.length > 0 ? Math.max(...celsius) - Math.min(...celsius) : 0
  if (constants.length < 2 || span < LEAST_SPAN_KELVIN) {
    const seen =
      constants.length < 2
        ? `k was seen ${constants.length === 0 ? 'at no' : 'at one'} temperature`
        : `k was seen over ${span.toFixed(0)} K only`
    return {
      reason: `${seen}: log a coast-down with the motor cold and one warmed through, at least ${LEAST_SPAN_KELVIN} K apart, or name the magnets`,
    }
  }
  const line = lineWithBothErrors(
    celsius.map(value => value - 20),
    constants.map(({ constant }) => constant.value),
    constants.map(each => Math.max(0.01, each.celsiusUncertainty)),
    constants.map(({ constant }) =>
      Math.max(constant.standardUncertainty, LEAST_SHARE * Math.abs(constant.value)),
    ),
  )
  if (!line.ok) return { reason: 'the readings of k leave no straight line over temperature' }
  const { intercept, slope, slopeUncertainty, interceptUncertainty, chiSquare } = line.value
  const freedom = constants.length - 2
  const scatter = freedom > 0 ? Math.sqrt(Math.max(1, chiSquare / freedom)) : 1
  const perKelvin = slope / intercept
  const standardUncertainty =
    scatter *
    Math.hypot(slopeUncertainty / intercept, (perKelvin * interceptUncertainty) / intercept)
  if (!(standardUncertainty < MOST_UNCERTAIN)) {
    return {
      reason: `the drop of k is uncertain by ${(100 * standardUncertainty).toFixed(2)} %/K: coast for longer, and over a wider span of temperature`,
    }
  }
  return {
    weakening: {
      basis: 'measured',
      perKelvin,
      standardUncertainty,
      constantAt20: intercept,
      degreesOfFreedom: freedom > 0 ? freedom : Number.POSITIVE_INFINITY,
    },
  }
}

/** Flux over that at 20 degC. */
export const fluxRatio = (weakening: Pick<MagnetWeakening, 'perKelvin'>, celsius: number): number =>
  1 + weakening.perKelvin * (celsius - 20)
