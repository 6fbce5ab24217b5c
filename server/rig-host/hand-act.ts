import { InputFault } from '../../src/base/faults.ts'
import { printable } from '../../src/base/printable.ts'
import type { Shaft } from '../../src/practice-rig/plant.ts'
import type { LineTroubles } from '../../src/practice-rig/rig-side/noisy-line.ts'

/** What an operator's hands, or bad luck, can do to a practice rig. */
export type HandAct =
  | { readonly act: 'shaft'; readonly shaft: Shaft }
  | { readonly act: 'load'; readonly inertiaKgM2: number; readonly torqueNm: number }
  | { readonly act: 'warm'; readonly windingCelsius: number; readonly housingCelsius: number }
  /** The device vanishes from the computer, and comes back. */
  | { readonly act: 'unplug' }
  | { readonly act: 'plug' }
  /** The cable behind the adapter is cut: the device stays, nothing passes. */
  | { readonly act: 'mute'; readonly on: boolean }
  | { readonly act: 'stall'; readonly forSec: number }
  | { readonly act: 'troubles'; readonly troubles: Partial<LineTroubles> }
  /** The board starts anew, as at a brown-out. */
  | { readonly act: 'reset' }

export const HAND_WORDS = `shaft free | shaft locked [RADIANS] | shaft slipping NEWTON-METRES | shaft driven RAD/S
load INERTIA-KGM2 TORQUE-NM | warm CELSIUS | unplug | plug | mute on|off | stall SECONDS
troubles [lost=RATE] [flipped=RATE] [added=RATE] | reset`

/** One line as typed where a practice rig runs. @throws InputFault that lists what can be typed. */
export function readHandAct(line: string): HandAct {
  const [verb = '', ...words] = line.trim().split(/\s+/)
  const act = read(verb, words)
  if (act) return act
  throw new InputFault(
    `'${printable(line.trim(), 60)}' is not something to do to a rig; it can be: ${HAND_WORDS.replaceAll('\n', ' | ')}`,
  )
}

function read(verb: string, words: readonly string[]): HandAct | null {
  switch (verb) {
    case 'shaft':
      return readShaft(words)
    case 'load': {
      const [inertiaKgM2, torqueNm] = numbers(words, 2)
      if (inertiaKgM2 === undefined || torqueNm === undefined || inertiaKgM2 < 0) return null
      return { act: 'load', inertiaKgM2, torqueNm }
    }
    case 'warm': {
      const [celsius] = numbers(words, 1)
      return celsius === undefined
        ? null
        : { act: 'warm', windingCelsius: celsius, housingCelsius: celsius }
    }
    case 'mute':
      return words.length === 1 && (words[0] === 'on' || words[0] === 'off')
        ? { act: 'mute', on: words[0] === 'on' }
        : null
    case 'stall': {
      const [forSec] = numbers(words, 1)
      return forSec === undefined || forSec < 0 ? null : { act: 'stall', forSec }
    }
    case 'troubles':
      return readTroubles(words)
    case 'unplug':
    case 'plug':
    case 'reset':
      return words.length === 0 ? { act: verb } : null
    default:
      return null
  }
}

function readShaft([hold, ...words]: readonly string[]): HandAct | null {
  const [value] = numbers(words, 1)
  if (hold === 'free' && words.length === 0) return { act: 'shaft', shaft: { hold } }
  if (hold === 'locked' && (words.length === 0 || value !== undefined)) {
    return { act: 'shaft', shaft: { hold, angleRad: value ?? 0 } }
  }
  if (hold === 'slipping' && value !== undefined && value >= 0) {
    return { act: 'shaft', shaft: { hold, angleRad: 0, slipNm: value } }
  }
  if (hold === 'driven' && value !== undefined) {
    return { act: 'shaft', shaft: { hold, speedRadPerSec: value } }
  }
  return null
}

const TROUBLES = ['lost', 'flipped', 'added', 'stallsPerSec', 'stallSec'] as const

function readTroubles(words: readonly string[]): HandAct | null {
  const troubles: Partial<Record<(typeof TROUBLES)[number], number>> = {}
  for (const word of words) {
    const [key, text] = word.split('=')
    const known = TROUBLES.find(trouble => trouble === key)
    const [rate] = numbers(text === undefined ? [] : [text], 1)
    if (!known || rate === undefined || rate < 0) return null
    troubles[known] = rate
  }
  return { act: 'troubles', troubles }
}

/** As many numbers as asked for, or none. */
function numbers(words: readonly string[], count: number): number[] {
  const values = words.map(word => (word === '' ? Number.NaN : Number(word)))
  return values.length === count && values.every(Number.isFinite) ? values : []
}
