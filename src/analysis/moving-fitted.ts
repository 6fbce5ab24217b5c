import type { RunSignals } from '../signals/run-signals.ts'
import { brushVolt } from './brush-model.ts'
import { coastSpeed } from './coast-curve.ts'
import { DRAG_TERMS, dragAmp } from './friction.ts'
import { walkIntegrals } from './momentum-data.ts'
import { fitGain } from './momentum-fit.ts'
import type { Moving } from './moving.ts'
import type { FittedColumns, KnownParameters } from './result.ts'

/**
 * What the separate fits say the channels should have been: the voltage from speed and current, the current of
 * the steady levels from the drag, the speed of run-up and coast from its closed course. NaN elsewhere.
 */
export function movingFitted(
  signals: RunSignals,
  moving: Moving,
  known: KnownParameters,
): FittedColumns {
  const speed = fittedSpeed(signals, moving)
  return {
    ...(signals.voltage ? { voltage: fittedVoltage(signals, moving, known) } : {}),
    ...(moving.drag ? { current: fittedCurrent(signals, moving) } : {}),
    ...(speed ? { speed } : {}),
  }
}

function nothing(signals: RunSignals): Float64Array {
  return new Float64Array(signals.count).fill(Number.NaN)
}

function fittedVoltage(signals: RunSignals, moving: Moving, known: KnownParameters): Float64Array {
  const { speed, current } = signals
  const fitted = nothing(signals)
  const open = moving.openTerminals
  const k = moving.backEmf?.backEmfConstant ?? moving.balance?.backEmfConstant ?? open?.constant
  const ohm = moving.backEmf?.resistance ?? moving.balance?.resistance ?? known.resistance
  if (!speed || !k) return fitted
  const drop = moving.backEmf?.brushDrop ?? moving.balance?.brushDrop ?? known.brushDrop
  const brush = { dropVolt: drop?.value ?? 0, kneeAmp: known.brushKneeAmp ?? 0 }
  for (let i = 0; ohm && current && i < fitted.length; i++) {
    const amp = current.values[i]!
    fitted[i] = k.value * speed.values[i]! + ohm.value * amp + brushVolt(brush, amp)
  }
  for (const { start, end } of open ? moving.coastData!.stretches : []) {
    for (let i = start; i < end; i++) {
      fitted[i] = open!.constant.value * speed.values[i]! + open!.offsetVolt
    }
  }
  return fitted
}

function fittedCurrent(signals: RunSignals, { drag, levels }: Moving): Float64Array {
  const fitted = nothing(signals)
  for (const level of levels) {
    fitted.fill(dragAmp(drag!.coefficients, level.speed!.value), level.start, level.end)
  }
  return fitted
}

function fittedSpeed(signals: RunSignals, moving: Moving): Float64Array | null {
  if (!moving.coast && !moving.transient) return null
  const fitted = nothing(signals)
  if (moving.coast) {
    const [a, b, c] = moving.coast.deceleration
    for (const [s, { start, end }] of moving.coastData!.stretches.entries()) {
      const from = moving.coast.startSpeeds[s]!
      const time = signals.timeSec!
      const sign = Math.sign(signals.speed!.values[start]!)
      for (let i = start; i < end; i++) {
        fitted[i] = sign * coastSpeed(time[i]! - time[start]!, Math.abs(from), a!, b!, c!)
      }
    }
  }
  const course = drivenCourse(moving)
  for (const [s, stretch] of course ? moving.transientData!.stretches.entries() : []) {
    walkIntegrals(signals, stretch, (i, _, integrals) => {
      let net = integrals[0]!
      for (let j = 0; j < DRAG_TERMS.length; j++) net -= course!.drag[j]! * integrals[j + 1]!
      fitted[i] = course!.startSpeeds[s]! + course!.gain * net
    })
  }
  return fitted
}

/** Gain, drag current and start speeds of the driven stretches: the drag of the levels where they show its shape. */
function drivenCourse({ transient, transientData, drag }: Moving) {
  if (!transient || !transientData) return null
  const gain = drag?.terms.includes('viscous') ? fitGain(transientData, drag.coefficients) : null
  if (gain && drag) return { ...gain, drag: drag.coefficients }
  return { ...transient, drag: transient.deceleration.map(d => d / transient.gain) }
}
