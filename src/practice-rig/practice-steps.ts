import type { PracticeMotor } from '../records/practice-motor.ts'
import type { PracticeBench } from './bench.ts'
import { stallAmp } from './default-bench.ts'
import type { PracticeStep } from './record-practice.ts'

/** Tests that need nothing but the motor on its bench. */
export type BasicTest = 'zero' | 'locked-rotor' | 'free-run' | 'run-up' | 'coast-down'

/** Shares of rated voltage in a free-run test: the speeds over which friction is stated. */
export const FREE_RUN_SHARES = [0.25, 0.4, 0.6, 0.8, 1] as const

const coast = (durationSec: number): PracticeStep => ({ bridge: 'coast', setVolt: 0, durationSec })
const drive = (setVolt: number, durationSec: number): PracticeStep => ({
  bridge: 'drive',
  setVolt,
  durationSec,
})

/**
 * Steps of the usual test of a kind, sized by what is known of a practice motor. `level` scales the
 * voltage and its sign the direction; `leadSec` of coast comes first.
 */
export function practiceSteps(
  motor: PracticeMotor,
  bench: PracticeBench,
  kind: BasicTest,
  level: number,
  leadSec: number,
): PracticeStep[] {
  const { copperOhm, inductanceHenry } = motor.winding
  const ohm = copperOhm + motor.brush.contactOhm
  const k = motor.magnet.backEmfConstantVsPerRad
  const volt = level * motor.rating.voltageVolt
  const inertia = motor.inertiaKgM2 + bench.fixture.inertiaKgM2
  // Near free running the brush drop acts as a resistance of up to V_b/I_b more.
  const slowOhm = ohm + motor.brush.dropVolt / motor.brush.kneeAmp
  const settleSec = Math.max(0.25, (7 * inertia * slowOhm) / (k * k))
  switch (kind) {
    case 'zero':
      return [coast(leadSec + 0.5)]
    case 'locked-rotor': {
      const peak = level * Math.min(motor.rating.voltageVolt, lockedVolt(motor))
      const pulseSec = Math.max(0.015, (8 * inductanceHenry) / ohm)
      const gapSec = pulseSec / 2
      const pulse = (share: number) => [drive(share * peak, pulseSec), coast(gapSec)]
      return [
        coast(leadSec),
        ...[0.12, 0.25, 0.5, 0.75, 1].flatMap(share => [...pulse(share), ...pulse(-share)]),
      ]
    }
    case 'free-run':
      return [
        coast(leadSec),
        ...[1, -1].flatMap(sign =>
          FREE_RUN_SHARES.map(share => drive(sign * share * volt, settleSec)),
        ),
      ]
    case 'run-up':
      return [coast(leadSec), drive(volt, settleSec)]
    case 'coast-down':
      return [coast(leadSec), drive(volt, settleSec), coast(coastSec(motor, inertia, volt))]
    default:
      return kind satisfies never
  }
}

/** Standstill voltage for three times rated current, at most two thirds of the stall current. */
function lockedVolt(motor: PracticeMotor): number {
  const amp = Math.min(3 * motor.rating.currentAmp, 0.66 * stallAmp(motor))
  return motor.brush.dropVolt + amp * (motor.winding.copperOhm + motor.brush.contactOhm)
}

/** Time to come to rest from the free-run speed at `volt` against dry friction alone, at most 6 s. */
function coastSec(motor: PracticeMotor, inertia: number, volt: number): number {
  const speed = Math.abs(volt) / motor.magnet.backEmfConstantVsPerRad
  return Math.min(6, (1.05 * inertia * speed) / motor.friction.coulombNm)
}
