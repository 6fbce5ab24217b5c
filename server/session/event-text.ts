import { TRIP_UNITS } from '../../src/protocol/bridge.ts'
import type { RigEvent } from '../../src/protocol/event.ts'

/** An event of the rig as the diary of a run has it. */
export function eventText(event: RigEvent): string {
  switch (event.name) {
    case 'boot':
      return `the rig started (${event.cause})`
    case 'bridge':
      return event.mode === 'drive' ? `drive at ${event.setVolt} V` : event.mode
    case 'drive-ended':
      return `drive command over (${event.by})`
    case 'trip':
      return rigTripText(event)
    case 'index':
      return `index pulse at position count ${event.count}`
    case 'overrun':
      return `the rig dropped ${event.dropped} samples, its line was too slow`
    case 'burst-ready':
      return `burst of ${event.samples} samples captured, ${event.before} of them before the trigger`
    default:
      return event satisfies never
  }
}

/** What the operator reads when the rig opened its bridge by itself. */
export function rigTripText({ code, value, limit }: Extract<RigEvent, { name: 'trip' }>): string {
  const what = code.replace('-', ' ')
  const unit = TRIP_UNITS[code]
  if (unit === '') return `the rig opened the bridge: ${what}`
  const reading = (number: number) => `${Number(number.toPrecision(4))} ${unit}`
  return `the rig opened the bridge: ${what}, ${reading(value)} where ${reading(limit)} are allowed`
}
