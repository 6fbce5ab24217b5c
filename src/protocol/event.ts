import type { Result } from '../base/result.ts'
import {
  BRIDGE_CAUSES,
  BRIDGE_MODES,
  type BridgeCause,
  type BridgeMode,
  TRIP_CAUSES,
  type TripCause,
} from './bridge.ts'
import { decimalText } from './channel.ts'
import { type Fields, field } from './fields.ts'
import type { LineFault } from './line-fault.ts'

export const BOOT_CAUSES = ['power', 'reset', 'brown-out', 'watchdog', 'other'] as const
export type BootCause = (typeof BOOT_CAUSES)[number]

/** What happened in the rig, at the rig's own time (P-7). */
export type RigEvent =
  | { readonly name: 'boot'; readonly cause: BootCause }
  | {
      readonly name: 'bridge'
      readonly mode: BridgeMode
      readonly setVolt: number
      readonly by: BridgeCause
    }
  /** `id` is that of the drive request. */
  | { readonly name: 'drive-ended'; readonly id: number; readonly by: BridgeCause }
  | {
      readonly name: 'trip'
      readonly code: TripCause
      readonly value: number
      readonly limit: number
    }
  | { readonly name: 'index'; readonly count: number }
  | { readonly name: 'overrun'; readonly sequence: number; readonly dropped: number }
  | { readonly name: 'burst-ready'; readonly samples: number; readonly before: number }

export const EVENT_NAMES = [
  'boot',
  'bridge',
  'drive-ended',
  'trip',
  'index',
  'overrun',
  'burst-ready',
] as const satisfies readonly RigEvent['name'][]

const U32 = 4_294_967_295

export function readEvent(name: RigEvent['name'], fields: Fields): Result<RigEvent, LineFault> {
  switch (name) {
    case 'boot':
      return fields.finish({ name, cause: fields.word('cause', BOOT_CAUSES) })
    case 'bridge':
      return fields.finish({
        name,
        mode: fields.word('mode', BRIDGE_MODES),
        setVolt: fields.integer('set-mv', -1e6, 1e6) / 1000,
        by: fields.word('by', BRIDGE_CAUSES),
      })
    case 'drive-ended':
      return fields.finish({
        name,
        id: fields.integer('id', 1, 65_535),
        by: fields.word('by', BRIDGE_CAUSES),
      })
    case 'trip':
      return fields.finish({
        name,
        code: fields.word('code', TRIP_CAUSES),
        value: fields.decimal('value'),
        limit: fields.decimal('limit'),
      })
    case 'index':
      return fields.finish({ name, count: fields.integer('count', 0, 65_535) })
    case 'overrun':
      return fields.finish({
        name,
        sequence: fields.integer('sequence', 0, U32),
        dropped: fields.integer('dropped', 1, U32),
      })
    case 'burst-ready':
      return fields.finish({
        name,
        samples: fields.integer('samples', 1, 1e6),
        before: fields.integer('before', 0, 1e6),
      })
    default:
      return name satisfies never
  }
}

export function writeEvent(event: RigEvent): string {
  switch (event.name) {
    case 'boot':
      return `boot ${field('cause', event.cause)}`
    case 'bridge':
      return `bridge mode=${event.mode} set-mv=${Math.round(event.setVolt * 1000)} by=${event.by}`
    case 'drive-ended':
      return `drive-ended id=${event.id} by=${event.by}`
    case 'trip':
      return `trip code=${event.code} value=${decimalText(event.value)} limit=${decimalText(event.limit)}`
    case 'index':
      return `index count=${event.count}`
    case 'overrun':
      return `overrun sequence=${event.sequence} dropped=${event.dropped}`
    case 'burst-ready':
      return `burst-ready samples=${event.samples} before=${event.before}`
    default:
      return event satisfies never
  }
}
