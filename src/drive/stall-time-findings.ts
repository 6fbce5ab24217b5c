import { COPPER_ZERO_CELSIUS, resistanceRatio } from '../motor/winding-temperature.ts'
import type { FindingInput, WindingHeat } from '../contract/withstand-document.ts'
import { type FindingContext, type FindingRecipe, type MotorNumbers, seriesOhm } from './finding.ts'

/**
 * Time in which a stalled winding without heat loss goes from one temperature to another.
 * Constant current I: C dT/dt = I² R₀ (τ + T)/(τ + T₀) gives
 *   t = C (τ + T₀)/(I² R₀) ln((τ + T₁)/(τ + T₀))
 * R₀ is the resistance at T₀, τ that of copper. Adiabatic: real windings take longer.
 */
export function adiabaticStallSec(
  heatJoulePerKelvin: number,
  currentAmp: number,
  resistanceAtStartOhm: number,
  fromCelsius: number,
  toCelsius: number,
): number {
  const from = COPPER_ZERO_CELSIUS + fromCelsius
  const to = COPPER_ZERO_CELSIUS + toCelsius
  return (
    ((heatJoulePerKelvin * from) / (currentAmp ** 2 * resistanceAtStartOhm)) * Math.log(to / from)
  )
}

export function stallTimeRecipes(
  { drive, referenceTemperatureCelsius }: FindingContext,
  windingHeat: WindingHeat | null,
): FindingRecipe[] {
  const start = drive.ambient.highestCelsius
  const end = drive.windingLimitCelsius
  const heat = heatInput(drive.windingHeatJoulePerKelvin, windingHeat)
  const stallTime = (m: Required<MotorNumbers>, [joulePerKelvin]: readonly number[]) => {
    const ohm = m.resistance * resistanceRatio(start, referenceTemperatureCelsius)
    const stall = Math.max(0, drive.supply.highestVolt - m.brushDrop) / (ohm + seriesOhm(drive))
    const amp = Math.min(stall, drive.currentLimit?.limitAmp ?? Number.POSITIVE_INFINITY)
    return adiabaticStallSec(joulePerKelvin!, amp, ohm, start, end)
  }
  return [
    {
      id: 'stallTime',
      label: 'Time from hot surroundings to the limit of the winding in a stall',
      unit: 's',
      formula: 't = C (τ + T₀)/(I² R₀) ln((τ + T₁)/(τ + T₀))',
      validity:
        'no heat lost and the current held: never longer is safe; the hottest coil of a few-slot rotor gets there in about half',
      basis: 'bound',
      needs: ['resistance', 'brushDrop'],
      inputs: [
        { name: 'from', value: start, unit: 'degC' },
        { name: 'to', value: end, unit: 'degC' },
        ...(heat === null ? [] : [heat]),
      ],
      missing:
        heat === null
          ? "the winding's heat capacity is not known: a heating test tells it, or state windingHeatJoulePerKelvin"
          : end <= start
            ? 'the surroundings are as hot as the winding may be'
            : null,
      ...(heat === null ? {} : { beside: [heat] }),
      compute: stallTime,
    },
  ]
}

/** What the drive's file states counts as given; else what was measured, with its uncertainty. */
function heatInput(stated: number | undefined, measured: WindingHeat | null): FindingInput | null {
  if (stated !== undefined) return { name: 'winding takes', value: stated, unit: 'J/K' }
  return (
    measured && {
      name: `winding takes, by heating run ${measured.run}`,
      value: measured.joulePerKelvin,
      unit: 'J/K',
      standardUncertainty: measured.standardUncertainty,
    }
  )
}
