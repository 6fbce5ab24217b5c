import type { RunSignals } from '../signals/run-signals.ts'
import { type SteadyLevel, steadyLevels } from '../signals/steady-levels.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import { type BackEmfFit, fitBackEmf } from './back-emf.ts'
import { type CoastFit, fitCoast } from './coast-curve.ts'
import { type CoastVoltage, coastVoltage } from './coast-voltage.ts'
import {
  type BalanceRow,
  balanceRows,
  type ElectricalBalance,
  fitBalance,
} from './electrical-balance.ts'
import { type DragCurrent, type DragTerm, fitDrag, turningLevels } from './friction.ts'
import { type MomentumData, momentumData } from './momentum-data.ts'
import { fitGain, fitMomentum, type MomentumFit } from './momentum-fit.ts'
import type { KnownParameters } from './result.ts'

/** Everything that a recording of a turning shaft, or a table of its steady levels, says by itself. */
export interface Moving {
  readonly levels: readonly SteadyLevel[]
  readonly backEmf: BackEmfFit | null
  readonly openTerminals: CoastVoltage | null
  /** The voltage balance of the run, and what it tells; empty where R was known before. */
  readonly balanceRows: readonly BalanceRow[]
  readonly balance: ElectricalBalance | null
  readonly drag: DragCurrent | null
  readonly coastData: MomentumData | null
  readonly coast: CoastFit | null
  readonly transientData: MomentumData | null
  readonly transient: MomentumFit | null
  /** The speed falls where the current should raise it. */
  readonly reversed: boolean
  /** J/k_t in A s²/rad with the drag at hand. */
  readonly inertiaPerTorqueConstant: Estimate | null
}

export function readMoving(signals: RunSignals, known: KnownParameters): Moving {
  const levels = turningLevels(steadyLevels(signals), signals.speed)
  const transientData = momentumData(signals, ['drive', 'brake'])
  const coastData = momentumData(signals, ['coast'])
  const momentum = transientData && bestMomentum(transientData)
  const transient = momentum && momentum.gain > 0 ? momentum : null
  const constant = known.torqueConstant ?? known.backEmfConstant
  // A level still accelerating says nothing of the drag unless the inertia is known.
  const steady = transient ? levels : levels.filter(level => level.settled)
  const drag = fitDrag(steady, {
    inertiaPerTorqueConstant: transient ? 1 / transient.gain : 0,
    loads: steady.map(level => level.torque?.value ?? signals.run.conditions.loadTorqueNm),
    ...(constant ? { perTorque: 1 / constant.value } : {}),
  })
  const openTerminals = coastData && coastVoltage(signals, coastData.stretches)
  const hasPrior = known.resistance !== undefined
  const rows = hasPrior ? [] : balanceRows(signals, levels, known.brushKneeAmp ?? 0)
  return {
    levels,
    backEmf: hasPrior ? fitBackEmf(levels, known) : null,
    openTerminals,
    balanceRows: rows,
    balance: hasPrior ? null : fitBalance(rows, openTerminals?.constant ?? null),
    drag,
    coastData,
    coast: coastData && fitCoast(coastData),
    transientData,
    transient,
    reversed: momentum !== null && momentum.gain < 0,
    inertiaPerTorqueConstant: transientData && ownInertia(transientData, transient, drag, known),
  }
}

/**
 * Dry and viscous drag beside the gain where the transients show them, an offset too where they turn both ways,
 * else dry drag alone.
 */
function bestMomentum(data: MomentumData): MomentumFit | null {
  for (const terms of transientTerms(data)) {
    const fit = fitMomentum(data, terms)
    if (fit && fit.gain > 0 && fit.deceleration[0]! >= 0 && fit.deceleration[1]! >= 0) return fit
  }
  return fitMomentum(data, ['coulomb'])
}

/** Sets of terms that transients may tell, the richest first. */
export function transientTerms({ speed }: MomentumData): DragTerm[][] {
  const bothWays = speed.some(w => w > 0) && speed.some(w => w < 0)
  const plain: DragTerm[] = ['coulomb', 'viscous']
  return bothWays ? [[...plain, 'offset'], plain] : [plain]
}

/** With the drag of other runs, else with that of this run's levels, else with what the transient shows itself. */
function ownInertia(
  data: MomentumData,
  transient: MomentumFit | null,
  drag: DragCurrent | null,
  known: KnownParameters,
): Estimate | null {
  const constant = known.torqueConstant ?? known.backEmfConstant
  const asCurrent =
    constant && known.coulombTorque
      ? [
          known.coulombTorque.value,
          known.viscousCoefficient?.value ?? 0,
          known.windageCoefficient?.value ?? 0,
          known.offsetTorque?.value ?? 0,
        ].map(torque => torque / constant.value)
      : drag?.terms.includes('viscous')
        ? drag.coefficients
        : null
  const gain = asCurrent ? fitGain(data, asCurrent) : null
  if (gain && gain.gain > 0)
    return inverse(gain.gain, gain.standardUncertainty, gain.degreesOfFreedom)
  if (!transient) return null
  return inverse(
    transient.gain,
    Math.sqrt(transient.covariance[0]![0]!),
    transient.degreesOfFreedom,
  )
}

function inverse(value: number, standardUncertainty: number, degreesOfFreedom: number): Estimate {
  return {
    value: 1 / value,
    standardUncertainty: standardUncertainty / value ** 2,
    degreesOfFreedom,
  }
}
