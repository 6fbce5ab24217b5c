import { type Command, InvalidArgumentError } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import {
  type RippleSettings,
  settingsForCommutator,
  UNKNOWN_MOTOR,
} from '../../src/ripple/ripple-settings.ts'
import { integerOption, numberOption } from './parse-options.ts'

/** What a user may know of the commutator, common to every command that reads ripple. */
export interface RippleOptions {
  readonly segments?: number
  readonly polePairs: number
  readonly ripplesPerTurn?: number
  readonly pwmFrequency?: number
}

const wholeNumber = (text: string): number => {
  const value = Number(text)
  if (text.trim() === '' || !Number.isFinite(value))
    throw new InvalidArgumentError('needs a number')
  return value
}

export const withRippleOptions = (command: Command): Command =>
  command
    .option('--segments <n>', 'segments of the commutator, counted', wholeNumber)
    .option('--pole-pairs <n>', 'pole pairs of the magnets', wholeNumber, 1)
    .option('--ripples-per-turn <n>', 'where that is known instead', integerOption(2, 1200))
    .option(
      '--pwm-frequency <Hz>',
      'of the bridge, where no voltage shows it; 0 where nothing switches',
      numberOption(0, 1e6),
    )

export function rippleSettings(options: RippleOptions): RippleSettings {
  const known = { switchingHz: options.pwmFrequency ?? null }
  if (options.segments !== undefined && options.ripplesPerTurn !== undefined) {
    throw new InputFault('--segments and --ripples-per-turn say the same thing: give one of them')
  }
  if (options.segments === undefined) {
    return {
      ...UNKNOWN_MOTOR,
      ...known,
      ripplesPerTurn: options.ripplesPerTurn ?? null,
      polePairs: options.polePairs,
    }
  }
  const settings = settingsForCommutator(options.segments, options.polePairs, known)
  if (!settings.ok) throw new InputFault(settings.error)
  return settings.value
}
