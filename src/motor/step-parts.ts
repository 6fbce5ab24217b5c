import type { StepClass, Window } from './step-matrices.ts'

/** Shares of a step's readings that fall into a part of it. */
export interface ReadingWeights {
  readonly current: number
  readonly speed: number
  readonly openVoltage: number
}

export interface StepPart {
  readonly step: StepClass
  readonly weights: ReadingWeights
}

export const WHOLE: ReadingWeights = { current: 1, speed: 1, openVoltage: 1 }

const MOMENT: Window = { fromSec: 0, toSec: 0, lagSec: 0 }

/** A step in `count` equal parts. */
export function equalParts(step: StepClass, count: number): StepPart[] {
  const span = step.durationSec / count
  return Array.from({ length: count }, (_, n) => partOf(step, n * span, span))
}

/** The part of a step from `at` on: its windows, and the share of each reading that falls into it. */
export function partOf(step: StepClass, at: number, span: number): StepPart {
  const last = at + span >= step.durationSec * (1 - 1e-12)
  const cut = (window: Window) => {
    const from = Math.max(window.fromSec, at)
    const to = last ? window.toSec : Math.min(window.toSec, at + span)
    const whole = window.toSec - window.fromSec
    if (whole <= 0) {
      const moment = window.toSec
      const inside = (moment > at || at === 0) && (last || moment <= at + span)
      if (!inside) return { window: MOMENT, weight: 0 }
      return { window: { fromSec: moment - at, toSec: moment - at, lagSec: 0 }, weight: 1 }
    }
    if (to <= from) return { window: MOMENT, weight: 0 }
    const { lagSec } = window
    return { window: { fromSec: from - at, toSec: to - at, lagSec }, weight: (to - from) / whole }
  }
  const current = cut(step.current)
  const speed = cut(step.speed)
  const open = cut(step.openVoltage)
  return {
    step: {
      durationSec: span,
      samples: step.samples,
      current: current.window,
      speed: speed.window,
      openVoltage: open.window,
      trail: null,
    },
    weights: { current: current.weight, speed: speed.weight, openVoltage: open.weight },
  }
}
