import type { DriveStep } from './test-plan.ts'
import type { WindingThermometer } from './winding-thermometer.ts'

/** Voltage and time for which a step is driven; what is left of its duration is coast. */
export type Driven = Pick<DriveStep, 'setVolt' | 'durationSec'>

/**
 * A step under a thermostat heats until the winding is expected at its mark, by the rate at which the last
 * heating pulse warmed it. At the mark, or too near to it for a reading, the resistance is only read.
 */
export function drivenUnder(
  { setVolt, durationSec, thermostat }: DriveStep,
  winding: Pick<WindingThermometer, 'meanRiseKelvin' | 'kelvinPerSec'>,
): Driven {
  if (!thermostat) return { setVolt, durationSec }
  const { meanRiseKelvin, readVolt, readSec } = thermostat
  const left = meanRiseKelvin - winding.meanRiseKelvin
  const leftSec = left > 0 ? left / winding.kelvinPerSec : 0
  if (leftSec < readSec) return { setVolt: readVolt, durationSec: readSec }
  // In milliseconds, as the wire carries it.
  return { setVolt, durationSec: Math.min(durationSec, Math.round(1000 * leftSec) / 1000) }
}
