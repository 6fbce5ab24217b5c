import type { MotorFinding } from '../contract/recognise-document.ts'
import { findPhases } from '../signals/phases.ts'
import type { RunSignals } from '../signals/run-signals.ts'
import { plainMean } from '../signals/steady-levels.ts'
import { straightLine } from '../statistics/straight-line.ts'
import { median } from '../statistics/robust.ts'
import type { FirstLook, Stalled } from './first-look.ts'
import { cannotSay, notSeen, number, seen } from './say.ts'

/** The winding is judged by levels up to this share of the highest voltage, a varistor by those above. */
const LOW_SHARE = 0.8
const FEWEST_LOW = 6
const SIGNIFICANT = 6
/** Excess of the current at the top from which it is worth a word. */
const WORTH = 0.001

/**
 * A varistor takes current that rises with a high power of the voltage: the highest levels of a locked rotor then
 * draw more than the straight line of the lower ones says. A warming winding draws less, so that it hides a
 * little but feigns nothing.
 */
export function varistorFinding({ stalls }: FirstLook): MotorFinding {
  const test =
    'with the shaft locked or free, raise the voltage slowly to a fifth above the rated one, the current limited, both ways'
  const judged = stalls.flatMap(stall => excessOf(stall) ?? [])
  const runs = stalls.map(({ run }) => run.id)
  if (judged.length === 0) {
    return cannotSay(
      'varistor',
      'no locked-rotor test has levels enough, low and high',
      test,
      [],
      runs,
    )
  }
  const excess = median(judged.map(each => each.excessAmp))
  const sigma = median(judged.map(each => each.sigmaAmp))
  const amp = median(judged.map(each => each.amp))
  const highest = Math.max(...judged.map(each => each.volt))
  const evidence = [
    number('current beyond the straight line at the highest voltage', excess, 'A', sigma),
    number('highest voltage seen', highest, 'V'),
  ]
  return excess > SIGNIFICANT * sigma && excess > WORTH * amp
    ? seen(
        'varistor',
        judged.length > 1 ? 'likely' : 'hint',
        'the current bends upwards at the highest voltage: a varistor, or another part that conducts only there',
        evidence,
        runs,
        test,
      )
    : notSeen(
        'varistor',
        'hint',
        `nothing bends up to ${highest.toPrecision(3)} V; one that conducts only above would not show`,
        evidence,
        runs,
        test,
      )
}

function excessOf({ analysis }: Stalled) {
  const { points } = analysis
  const top = Math.max(...points.map(({ voltage }) => Math.abs(voltage)))
  const low = points.filter(
    ({ voltage }) => Math.abs(voltage) < LOW_SHARE * top && Math.abs(voltage) > 0.2 * top,
  )
  const high = points.filter(({ voltage }) => Math.abs(voltage) > 0.97 * top)
  if (low.length < FEWEST_LOW || high.length === 0) return null
  const line = straightLine(
    low.map(({ current }) => Math.abs(current)),
    low.map(({ voltage }) => Math.abs(voltage)),
  )
  if (!line.ok || !(line.value.slope > 0)) return null
  const { slope, intercept, slopeUncertainty, interceptUncertainty } = line.value
  const excesses = high.map(
    ({ current, voltage }) => Math.abs(current) - (Math.abs(voltage) - intercept) / slope,
  )
  const amp = Math.abs(high[0]!.current)
  return {
    excessAmp: Math.min(...excesses),
    sigmaAmp: Math.hypot(amp * slopeUncertainty, interceptUncertainty) / slope,
    amp,
    volt: top,
  }
}

const GONE = 0.1
const SAME_VOLT = 0.9
const FLOWS_NOISES = 20
/** Samples. */
const PIECE = 6
/** A bimetal opens from about this rise on. Common practice, no source. */
const USUAL_OPENING_KELVIN = 60

/** A cut-out opens while the voltage stays: the current is gone at once, and comes back by itself. */
export function cutOutFinding({ sampled }: FirstLook): MotorFinding {
  const test = `a heating run to ${USUAL_OPENING_KELVIN} K or more, watched; it should end by itself where there is one`
  const looked = sampled.filter(({ run }) => run.kind === 'locked-rotor' || run.kind === 'heating')
  const openings = looked.flatMap(signals =>
    openingsOf(signals).map(each => ({ ...each, run: signals.run.id })),
  )
  if (openings.length > 0) {
    const first = openings[0]!
    return seen(
      'cutOut',
      openings.length > 1 ? 'sure' : 'likely',
      'the current went to nil by itself while the voltage stayed: a thermal cut-out opened, or a contact is loose',
      [
        number('times it opened', openings.length, '1'),
        number('first after', first.timeSec, 's'),
        number('resistance then over that at the start, brushes included', first.ratio, '1'),
      ],
      [...new Set(openings.map(({ run }) => run))],
      'warm it again to the same resistance: a cut-out opens at the same, a loose contact when it likes',
    )
  }
  return cannotSay(
    'cutOut',
    looked.length > 0
      ? 'none opened, but the tests were too gentle to open one'
      : 'no test warmed the winding with the shaft at rest',
    test,
    [],
    looked.map(({ run }) => run.id),
  )
}

/** Pieces of all driven phases in turn: one without current after one with, at the same voltage. */
function openingsOf(signals: RunSignals) {
  const { current, voltage, timeSec } = signals
  const found: { timeSec: number; ratio: number }[] = []
  const cold: { volt: number; amp: number }[] = []
  const isSame = (a: number, b: number) => a / b > SAME_VOLT && b / a > SAME_VOLT
  let before: { volt: number; amp: number } | null = null
  for (const { kind, start, end } of findPhases(signals).phases) {
    if (kind !== 'drive') continue
    for (let from = start; from + PIECE <= end; from += PIECE) {
      const piece = {
        volt: plainMean(voltage!.values, from + 1, from + PIECE),
        amp: plainMean(current!.values, from + 1, from + PIECE),
      }
      const flows = Math.abs(piece.amp) > FLOWS_NOISES * current!.noise
      if (before && piece.volt / before.volt > SAME_VOLT && piece.amp / before.amp < GONE) {
        const { volt, amp } = before
        const first = cold.find(each => isSame(each.volt, volt)) ?? before
        found.push({ timeSec: timeSec![from]!, ratio: volt / amp / (first.volt / first.amp) })
        before = null
        // The first piece of a pulse is still rising.
      } else if (flows && from > start) {
        if (!cold.some(each => isSame(each.volt, piece.volt))) cold.push(piece)
        before = piece
      }
    }
  }
  return found
}
