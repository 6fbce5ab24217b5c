import type { HeatLimitName, HeatNumber, HeatNumberName } from '../contract/heat-document.ts'
import { coverageFactor } from '../statistics/distributions.ts'
import { propagate } from '../statistics/propagation.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import { continuousCurrentAmp, steadyAt } from './continuous-current.ts'
import { type HeatFit, modelOf } from './fit-heat.ts'
import { TELLS, untold } from './heat-numbers.ts'
import { fluxRatio, type MagnetWeakening } from './magnet-weakening.ts'
import { type Stall, stallTimeSec } from './stall-time.ts'

export interface LimitSetting {
  readonly startCelsius: number
  readonly meanLimitCelsius: number
  readonly ambientCelsius: number
  readonly frictionWatt: number
  readonly stall: Stall | null
  readonly weakening: MagnetWeakening | null
  /** Of the motor with magnets at a known temperature, and its drag; null where not identified. */
  readonly torqueConstant: (Estimate & { readonly magnetCelsius: number }) | null
  readonly dragNm: number
}

/** A motor warmed through by continuous duty at 0.7 of the continuous current: half of the allowed rise. */
const WARM_SHARE = 0.5

const FACTS: Readonly<Record<HeatLimitName, { label: string; unit: string; formula: string }>> = {
  continuousCurrent: {
    label: 'Continuous current',
    unit: 'A',
    formula: '(R_1 + R_2) R_cu(T) I² + R_2 (R_c I² + V_b I + P_f) = T − T_a',
  },
  continuousTorque: {
    label: 'Continuous torque at the shaft, magnets warm',
    unit: 'N m',
    formula: 'k(T_h) I − T_f',
  },
  stallTimeCold: {
    label: 'Time to the limit in a stall, from cold',
    unit: 's',
    formula: 'two-mass model from ambient',
  },
  stallTimeWarm: {
    label: 'Time to the limit in a stall, from warm',
    unit: 's',
    formula: 'two-mass model from half of the allowed rise',
  },
}

/** Continuous current and torque, and times in a stall; each with what the fit leaves open of it. */
export function heatLimits(
  fit: HeatFit,
  covariance: readonly (readonly number[])[],
  numbers: Readonly<Record<HeatNumberName, HeatNumber>>,
  setting: LimitSetting,
): Record<HeatLimitName, HeatNumber> {
  const duty = {
    startCelsius: setting.startCelsius,
    limitCelsius: setting.meanLimitCelsius,
    ambientCelsius: setting.ambientCelsius,
    frictionWatt: setting.frictionWatt,
  }
  const model = (x: readonly number[]) => modelOf(x, fit.model)
  const current = (x: readonly number[]) => continuousCurrentAmp(model(x), duty)
  const told = (name: HeatLimitName, of: (x: readonly number[]) => number) =>
    toldBy(name, fit, covariance, of)
  const isHotter = setting.ambientCelsius >= setting.meanLimitCelsius
  const lacking = (['windingToHousing', 'housingToAmbient'] as const).find(
    name => numbers[name].status !== 'determined',
  )
  const noCurrent = isHotter
    ? 'the surroundings are as hot as the winding may be'
    : lacking
      ? numbers[lacking].reason!
      : null
  const continuousCurrent =
    noCurrent === null
      ? told('continuousCurrent', current)
      : untold(FACTS.continuousCurrent, noCurrent)
  return {
    continuousCurrent,
    continuousTorque: torqueOf(setting, noCurrent, x => {
      const amp = current(x)
      const { housingCelsius } = steadyAt(model(x), duty, amp)
      return { amp, housingCelsius }
    }),
    stallTimeCold: stallTime('stallTimeCold', () => ({
      windingCelsius: setting.ambientCelsius,
      housingCelsius: setting.ambientCelsius,
    })),
    stallTimeWarm:
      noCurrent === null
        ? stallTime('stallTimeWarm', x => {
            const end = steadyAt(model(x), duty, current(x))
            const share = (to: number) =>
              setting.ambientCelsius + WARM_SHARE * (to - setting.ambientCelsius)
            return {
              windingCelsius: share(end.windingCelsius),
              housingCelsius: share(end.housingCelsius),
            }
          })
        : untold(FACTS.stallTimeWarm, noCurrent),
  }

  function stallTime(
    name: 'stallTimeCold' | 'stallTimeWarm',
    from: (x: readonly number[]) => { windingCelsius: number; housingCelsius: number },
  ): HeatNumber {
    const { stall } = setting
    if (isHotter) return untold(FACTS[name], 'the surroundings are as hot as the winding may be')
    if (!stall) return untold(FACTS[name], 'state what a stall is: a voltage or a current')
    return told(name, x =>
      stallTimeSec(
        model(x),
        stall,
        from(x),
        setting.startCelsius,
        setting.ambientCelsius,
        setting.meanLimitCelsius,
      ),
    )
  }

  function torqueOf(
    { torqueConstant, weakening, dragNm }: LimitSetting,
    noAmp: string | null,
    at: (x: readonly number[]) => { amp: number; housingCelsius: number },
  ): HeatNumber {
    if (noAmp !== null) return untold(FACTS.continuousTorque, noAmp)
    if (!torqueConstant) {
      return untold(FACTS.continuousTorque, 'k is not known: identify the motor first')
    }
    if (!weakening) {
      return untold(
        FACTS.continuousTorque,
        'it is not known by how much the warm magnets weaken: name the magnets, or log coast-downs cold and warm',
      )
    }
    // k and the coefficient join the fitted numbers, independent of them.
    const joined = [...fit.coordinates, torqueConstant.value, weakening.perKelvin]
    const size = covariance.length
    const wide = joined.map((_, j) =>
      joined.map((__, l) => {
        if (j < size && l < size) return covariance[j]![l]!
        if (j !== l) return 0
        return (j === size ? torqueConstant : weakening).standardUncertainty ** 2
      }),
    )
    return toldBy(
      'continuousTorque',
      fit,
      wide,
      x => {
        const { amp, housingCelsius } = at(x.slice(0, size))
        const changed = { perKelvin: x[size + 1]! }
        const k =
          (x[size]! * fluxRatio(changed, housingCelsius)) /
          fluxRatio(changed, torqueConstant.magnetCelsius)
        return k * amp - dragNm
      },
      joined,
    )
  }
}

function toldBy(
  name: HeatLimitName,
  fit: HeatFit,
  covariance: readonly (readonly number[])[],
  of: (x: readonly number[]) => number,
  at: readonly number[] = fit.coordinates,
): HeatNumber {
  if (!Number.isFinite(of(at))) {
    return untold(
      FACTS[name],
      'the winding never gets there: what flows in a stall may flow for ever',
    )
  }
  const { value, standardUncertainty } = propagate(of, at, covariance)
  if (!(standardUncertainty < TELLS * Math.abs(value))) {
    return untold(
      FACTS[name],
      Number.isFinite(standardUncertainty)
        ? 'the run leaves it open by more than a fifth of itself: a longer run, hotter at its end, tells more'
        : 'it is near the edge of never getting there: within its uncertainty there is no such time',
    )
  }
  const reach = coverageFactor(fit.degreesOfFreedom) * standardUncertainty
  return {
    ...FACTS[name],
    status: 'determined',
    value,
    standardUncertainty,
    lower95: value - reach,
    upper95: value + reach,
  }
}
