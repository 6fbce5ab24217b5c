import type { PracticeMotor } from '../records/practice-motor.ts'
import type { PracticeBench, PracticeChannel } from './bench.ts'

export interface BenchChoices {
  readonly bridge: 'linear' | 'pwm'
  readonly pwmHz: number
  readonly ambientCelsius: number
  readonly position: boolean
  readonly torque: boolean
  readonly windingTemperature: boolean
  readonly ambientTemperature: boolean
}

export const DEFAULT_BENCH_CHOICES: BenchChoices = {
  bridge: 'linear',
  pwmHz: 20_000,
  ambientCelsius: 23,
  position: false,
  torque: false,
  windingTemperature: false,
  ambientTemperature: false,
}

/** Largest current of a motor on its rated voltage, cold, at standstill. */
export function stallAmp(motor: PracticeMotor): number {
  return motor.rating.voltageVolt / (motor.winding.copperOhm + motor.brush.contactOhm)
}

/** Next of 1, 2, 5, 10, … at or above. */
function roundUp(value: number): number {
  const decade = 10 ** Math.floor(Math.log10(value))
  return decade * ([1, 2, 5].find(step => step * decade >= value * 0.9999) ?? 10)
}

/**
 * A bench that suits the motor: sensors of 16 bits whose ranges take the stall current and a quarter
 * above rated voltage, noise of a few hundred-thousandths of the range, calibrated as a careful laboratory
 * does (gain 0.03 %).
 */
export function defaultBench(
  motor: PracticeMotor,
  choices: Partial<BenchChoices> = {},
): PracticeBench {
  const chosen = { ...DEFAULT_BENCH_CHOICES, ...choices }
  const stall = stallAmp(motor)
  const voltRange = roundUp(1.25 * motor.rating.voltageVolt)
  const ampRange = roundUp(1.1 * stall)
  const resistance = motor.rating.voltageVolt / stall
  const channels: PracticeChannel[] = [
    analogue('terminal voltage', 'voltage', voltRange, 4e-5, 3e-4, 1e-5),
    analogue('motor current', 'current', ampRange, 6e-5, 3e-4, 2e-5),
    {
      ...analogue('shaft speed', 'speed', 1.2 * motor.rating.speedLimitRadPerSec, 5e-5, 2e-5, 0),
      encoder: { countsPerTurn: 4000, windowSec: 1e-3, method: 'timed', eccentricityRad: 2e-4 },
    },
  ]
  if (chosen.position) {
    channels.push({
      ...analogue('shaft position', 'position', 1, 0, 0, 0),
      encoder: { countsPerTurn: 4000, windowSec: 1e-3, method: 'count', eccentricityRad: 2e-4 },
    })
  }
  if (chosen.torque) {
    const range = roundUp(1.1 * stall * motor.magnet.backEmfConstantVsPerRad)
    channels.push(analogue('shaft torque', 'torque', range, 2e-4, 1e-3, 1e-4))
  }
  if (chosen.windingTemperature) channels.push(thermometer('winding temperature', 'temperature'))
  if (chosen.ambientTemperature) channels.push(thermometer('air temperature', 'ambient'))
  return {
    supply: {
      openVolt: 1.2 * motor.rating.voltageVolt,
      resistanceOhm: 0.02 * resistance,
      limitAmp: 1.2 * stall,
      sinks: true,
      busFarad: 1e-3,
      humVolt: 0.0005 * motor.rating.voltageVolt,
      humHz: 100,
    },
    bridge: {
      kind: chosen.bridge,
      pwmHz: chosen.pwmHz,
      pathOhm: 0.03 * resistance,
      diodeVolt: 0.75,
    },
    fixture: { inertiaKgM2: 0, coulombNm: 0, viscousNmsPerRad: 0 },
    ambientCelsius: chosen.ambientCelsius,
    channels,
  }
}

/** Noise and zero uncertainty as shares of the range. */
function analogue(
  name: string,
  quantity: PracticeChannel['quantity'],
  fullScale: number,
  noiseShare: number,
  gainUncertainty: number,
  zeroShare: number,
): PracticeChannel {
  return {
    name,
    quantity,
    fullScale,
    unipolar: false,
    originSI: 0,
    bits: 16,
    noise: noiseShare * fullScale,
    apertureSec: 'period',
    delaySec: 0,
    gainUncertainty,
    zeroUncertainty: zeroShare * fullScale,
    encoder: null,
  }
}

/** -40 to 216 degC in 12 bits. */
function thermometer(name: string, quantity: 'temperature' | 'ambient'): PracticeChannel {
  const channel = analogue(name, quantity, 256, 2e-4, 2e-3, 5e-4)
  return { ...channel, unipolar: true, originSI: -40, bits: 12 }
}
