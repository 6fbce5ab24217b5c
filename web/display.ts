import { RPM_PER_RAD_PER_SEC } from '../src/base/units.ts'
import { printedScale, type QuantityText, readingText } from '../src/base/quantity-text.ts'
import { type Quantity, UNIT_OF } from '../src/records/quantity.ts'
import type { RunEnding, TestKind } from '../src/records/test-kind.ts'

/** How a quantity is shown: speeds in turns a minute, everything else in its SI unit with a prefix. */
export interface Shown {
  readonly label: string
  readonly symbol: string
  readonly unit: string
  /** Shown value = SI value × factor. */
  readonly factor: number
  /** Name of its colour among the style's tokens. */
  readonly colour: string
}

const shown = (label: string, symbol: string, quantity: Quantity): Shown => ({
  label,
  symbol,
  unit: UNIT_OF[quantity],
  factor: 1,
  colour: `--${quantity}`,
})

export const SHOWN: Readonly<Record<Quantity, Shown>> = {
  voltage: shown('Voltage', 'v', 'voltage'),
  current: shown('Current', 'i', 'current'),
  speed: { ...shown('Speed', 'n', 'speed'), unit: 'rpm', factor: RPM_PER_RAD_PER_SEC },
  position: {
    ...shown('Shaft position', 'φ', 'position'),
    unit: 'turns',
    factor: 1 / (2 * Math.PI),
  },
  temperature: shown('Winding temperature', 'ϑ', 'temperature'),
  ambient: shown('Air temperature', 'ϑa', 'ambient'),
  torque: shown('Shaft torque', 'M', 'torque'),
}

/** One scale for a whole channel, from its largest magnitude: so an axis has one unit. */
export function channelScale(
  quantity: Quantity,
  largest: number,
): { factor: number; unit: string } {
  const { unit, factor } = SHOWN[quantity]
  if (unit === 'turns') return { factor, unit }
  const scale = printedScale(largest * factor, unit)
  return { factor: factor / scale.factor, unit: scale.unit }
}

/** A live reading, in as many digits as fit a glance. */
export function reading(quantity: Quantity, value: number | null, digits = 4): QuantityText {
  const { unit, factor } = SHOWN[quantity]
  return readingText(value === null ? null : value * factor, unit, digits)
}

export const KIND_WORDS: Readonly<Record<TestKind, string>> = {
  zero: 'Zero',
  'locked-rotor': 'Locked rotor',
  'free-run': 'Free run',
  'run-up': 'Run-up',
  'coast-down': 'Coast-down',
  'back-driven': 'Back-driven',
  load: 'Load',
  heating: 'Heating',
  mixed: 'Mixed',
}

export const ENDING_WORDS: Readonly<
  Record<RunEnding, { text: string; tone: 'good' | 'warn' | 'bad'; glyph: string }>
> = {
  open: { text: 'being logged', tone: 'good', glyph: 'running' },
  complete: { text: 'complete', tone: 'good', glyph: 'check' },
  stopped: { text: 'stopped', tone: 'warn', glyph: 'square' },
  tripped: { text: 'tripped', tone: 'bad', glyph: 'bolt' },
  'link-lost': { text: 'link lost', tone: 'bad', glyph: 'broken' },
  interrupted: { text: 'interrupted', tone: 'warn', glyph: 'broken' },
  imported: { text: 'imported', tone: 'good', glyph: 'into' },
}

/** A temperature as it was stated: no digits that nobody gave. */
export const celsius = (value: number): string =>
  `${String(Number(value.toPrecision(4))).replace('-', '−')}\u00a0°C`

const DAY = new Intl.DateTimeFormat(undefined, { dateStyle: 'medium', timeStyle: 'short' })

/** A moment by the reader's own clock. */
export const moment = (iso: string): string => DAY.format(new Date(iso))

/** A span of time as people say it: `850 ms`, `12.5 s`, `3 min 20 s`. */
export function span(seconds: number): string {
  if (seconds < 60) return readingText(seconds, 's', 3).text
  const whole = Math.round(seconds)
  const rest = whole % 60
  return `${Math.floor(whole / 60)}\u00a0min${rest === 0 ? '' : ` ${rest}\u00a0s`}`
}

/** What is left of a wait or a sequence, which is an estimate: minutes, then tens of seconds. */
export function timeLeft(seconds: number): string {
  if (seconds > 90) return `${Math.ceil(seconds / 60)}\u00a0min`
  return `${Math.max(10, Math.ceil(seconds / 10) * 10)}\u00a0s`
}

/** The first letter large: words of the server that stand alone on the page. A symbol (k, k_t) stays what it is. */
export const sentence = (text: string): string =>
  /^[b-z](?![a-z])/.test(text) ? text : text.charAt(0).toUpperCase() + text.slice(1)

const COUNT = new Intl.NumberFormat('en', { useGrouping: true })
/** A count with thin groups of three: `1 234 567`. */
export const count = (n: number): string => COUNT.format(n).replaceAll(',', '\u202f')
