import type { Result } from '../base/result.ts'
import { QUANTITIES, type Quantity, UNIT_OF } from '../records/quantity.ts'
import { type Fields, field, quotedField } from './fields.ts'
import type { LineFault } from './line-fault.ts'
import { WIRE } from './wire.ts'

/** How the 16 bits of a count are read (P-5.5). `modulo` runs round and is unwrapped by the host. */
export const COUNT_KINDS = ['signed', 'unsigned', 'modulo'] as const
export type CountKind = (typeof COUNT_KINDS)[number]

/** One channel as the rig declares it for the sample period in force. Value = scale × count + offset. */
export interface ChannelDeclaration {
  readonly index: number
  readonly name: string
  readonly quantity: Quantity
  /** In the quantity's SI unit. */
  readonly scale: number
  readonly offset: number
  readonly kind: CountKind
  readonly bits: number
  /** Lowest and highest count that can appear; a reading at either is saturated (not where `modulo`). */
  readonly lowCount: number
  readonly highCount: number
  /** Standard deviation of the white noise on one sample, SI. */
  readonly noise: number
  /** Averaging window that ends at the time stamp; 0 for an instantaneous reading. */
  readonly apertureSec: number
  /** How much older than the middle of the aperture the reading is. */
  readonly delaySec: number
  /** Type B: relative standard uncertainty of the scale, standard uncertainty of the zero (SI). */
  readonly gainUncertainty: number
  readonly zeroUncertainty: number
}

/** `N m` cannot stand in an unquoted value: the wire writes the product as a dot. */
const wireUnit = (quantity: Quantity) => UNIT_OF[quantity].replace(' ', '.')

export function countBounds(kind: CountKind, bits: number): { low: number; high: number } {
  return kind === 'signed'
    ? { low: -(2 ** (bits - 1)), high: 2 ** (bits - 1) - 1 }
    : { low: 0, high: 2 ** bits - 1 }
}

export function readChannel(fields: Fields): Result<ChannelDeclaration, LineFault> {
  const quantity = fields.word('quantity', QUANTITIES)
  fields.word('unit', [wireUnit(quantity)])
  const kind = fields.word('kind', COUNT_KINDS)
  const bits = fields.integer('bits', 1, 16)
  const { low, high } = countBounds(kind, Number.isNaN(bits) ? 16 : bits)
  const seconds = (key: string) => fields.decimal(key, 0, 1e7) / 1e6
  const uncertainty = (key: string) => fields.decimal(key, 0)
  const lowCount = fields.integer('low', low, high)
  return fields.finish({
    index: fields.integer('index', 0, WIRE.maxChannels - 1),
    name: fields.text('name'),
    quantity,
    scale: fields.decimal('scale'),
    offset: fields.decimal('offset'),
    kind,
    bits,
    lowCount,
    highCount: fields.integer('high', Number.isNaN(lowCount) ? low : lowCount, high),
    noise: fields.decimal('noise', 0),
    apertureSec: seconds('aperture-us'),
    delaySec: seconds('delay-us'),
    gainUncertainty: fields.optional('gain-u', uncertainty, 0),
    zeroUncertainty: fields.optional('zero-u', uncertainty, 0),
  })
}

export function writeChannel(channel: ChannelDeclaration): string {
  const parts = [
    field('index', channel.index),
    quotedField('name', channel.name),
    field('quantity', channel.quantity),
    field('unit', wireUnit(channel.quantity)),
    field('scale', decimalText(channel.scale)),
    field('offset', decimalText(channel.offset)),
    field('kind', channel.kind),
    field('bits', channel.bits),
    field('low', channel.lowCount),
    field('high', channel.highCount),
    field('noise', decimalText(channel.noise)),
    field('aperture-us', decimalText(channel.apertureSec * 1e6)),
    field('delay-us', decimalText(channel.delaySec * 1e6)),
  ]
  const { gainUncertainty, zeroUncertainty } = channel
  if (gainUncertainty > 0) parts.push(field('gain-u', decimalText(gainUncertainty)))
  if (zeroUncertainty > 0) parts.push(field('zero-u', decimalText(zeroUncertainty)))
  return parts.join(' ')
}

/** A number in the form of P-3.6: at most nine significant digits, exponent without plus sign. */
export function decimalText(value: number): string {
  return String(Number(value.toPrecision(9))).replace('e+', 'e')
}
