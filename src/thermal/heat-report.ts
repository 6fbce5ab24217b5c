import { type Result, success } from '../base/result.ts'
import type { HeatDocument } from '../contract/heat-document.ts'
import { COPPER_ZERO_CELSIUS } from '../motor/winding-temperature.ts'
import type { TestRun } from '../records/test-run.ts'
import type { ZeroOffsets } from '../signals/run-signals.ts'
import { continuousCurrentAmp, steadyAt } from './continuous-current.ts'
import { type FittedHeat, fitHeatRun } from './fit-heat-run.ts'
import { heatLimits } from './heat-limits.ts'
import { assumptionsOf, CAUTIONS, warningsOf } from './heat-notes.ts'
import type { HeatOrder } from './heat-order.ts'
import { highestMeanCelsius } from './insulation.ts'
import {
  fluxRatio,
  type MagnetWeakening,
  magnetWeakening,
  type WarmConstant,
} from './magnet-weakening.ts'

/** A heating run of one motor, fitted, with what follows from it for continuous duty and for a stall. */
export function identifyHeat(
  run: TestRun,
  order: HeatOrder,
  zeros: ZeroOffsets = {},
): Result<HeatDocument, string> {
  const fitted = fitHeatRun(run, order, zeros)
  return fitted.ok ? success(heatDocumentOf(fitted.value, order)) : fitted
}

/** What follows from a fitted heating run for a class of insulation and a use. */
export function heatDocumentOf(fitted: FittedHeat, order: HeatOrder): HeatDocument {
  const { run, setting, fit, covariance, watchedSec, numbers } = fitted
  const { startCelsius } = setting
  const magnets = weakeningOf(fitted.ownConstants, order)
  const weakening = 'weakening' in magnets ? magnets.weakening : null
  const duty = {
    startCelsius,
    limitCelsius: highestMeanCelsius(order.insulation),
    ambientCelsius: order.ambientCelsius,
    frictionWatt: order.frictionWatt,
  }
  const limits = heatLimits(fit, covariance, numbers, {
    ...duty,
    meanLimitCelsius: duty.limitCelsius,
    stall: order.stall,
    weakening,
    torqueConstant: order.torqueConstant,
    dragNm: order.dragNm,
  })
  const hot =
    limits.continuousCurrent.status === 'determined'
      ? steadyAt(fit.model, duty, continuousCurrentAmp(fit.model, duty)).housingCelsius
      : null
  const perOhm = (COPPER_ZERO_CELSIUS + startCelsius) / fit.model.startOhm
  const largest = fit.residualsOhm.reduce((most, r) => Math.max(most, Math.abs(r)), 0)
  return {
    schema: 'heat/1',
    motor: order.motor,
    run: run.id,
    startCelsius,
    durationSec: watchedSec,
    highestWindingCelsius: Math.max(...fit.course.winding),
    highestHousingCelsius: Math.max(...fit.course.housing),
    startResistanceOhm: fit.model.startOhm,
    brushDropVolt: fit.model.brushDropVolt,
    numbers,
    magnets: {
      basis: weakening?.basis ?? 'not-determined',
      perKelvin: weakening?.perKelvin ?? null,
      standardUncertainty: weakening?.standardUncertainty ?? null,
      fluxRatioAtLimit: weakening && hot !== null ? fluxRatio(weakening, hot) : null,
      ...('reason' in magnets ? { reason: magnets.reason } : {}),
    },
    limitsFor: {
      insulationClass: order.insulation.name,
      hottestCelsius: order.insulation.hottestCelsius,
      meanLimitCelsius: duty.limitCelsius,
      ambientCelsius: order.ambientCelsius,
      frictionWatt: order.frictionWatt,
      stall: order.stall
        ? 'volt' in order.stall
          ? `${order.stall.volt} V at the terminals`
          : `${order.stall.amp} A held`
        : null,
    },
    limits,
    course: courseOf(fitted),
    goodness: {
      readings: fit.residualsOhm.length,
      degreesOfFreedom: fit.degreesOfFreedom,
      reducedChiSquare: fit.reducedChiSquare,
      largestResidualKelvin: largest * perOhm,
    },
    assumptions: assumptionsOf(order, run, setting.steadyShare),
    cautions: CAUTIONS,
    warnings: warningsOf(run, fit, largest * perOhm),
  }
}

function weakeningOf(
  own: readonly WarmConstant[],
  { declaredMagnets, warmConstants }: HeatOrder,
): { weakening: MagnetWeakening } | { reason: string } {
  const found = magnetWeakening([...own, ...warmConstants])
  if ('weakening' in found || !declaredMagnets) return found
  return {
    weakening: {
      basis: 'declared',
      ...declaredMagnets,
      constantAt20: null,
      degreesOfFreedom: Number.POSITIVE_INFINITY,
    },
  }
}

/** The readings as measured beside the model's, in ohms and in degrees. */
function courseOf({ blocks, fit, setting: { startCelsius } }: FittedHeat): HeatDocument['course'] {
  const { model, course } = fit
  const readings = blocks.flatMap(block => block.reading ?? [])
  const steady = model.steadyShare * model.startOhm
  const cold = model.startOhm - steady
  // The drop of the brushes is taken off: it changes with the current, not with the temperature.
  const net = readings.map(
    ({ ohm, amp }) => ohm - (model.brushDropVolt * Math.tanh(amp / model.brushKneeAmp)) / amp,
  )
  const celsius = (ohm: number) =>
    ((ohm - steady) / cold) * (COPPER_ZERO_CELSIUS + startCelsius) - COPPER_ZERO_CELSIUS
  return {
    timeSec: readings.map(reading => reading.atSec),
    windingOhm: net,
    fittedWindingOhm: net.map((ohm, n) => ohm - fit.residualsOhm[n]!),
    windingCelsius: net.map(celsius),
    fittedWindingCelsius: [...course.winding],
    fittedHousingCelsius: [...course.housing],
  }
}
