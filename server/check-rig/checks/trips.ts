import {
  ask,
  eventsFrom,
  isEvent,
  refused,
  type RigUnderCheck,
  type SeenEvent,
  statusOf,
  step32,
} from '../rig-under-check.ts'
import { driveText, type GentleDrive } from './gentle-drive.ts'

const COAST = 'drive mode=coast duration-ms=10 current-ma=100 after=coast'

/** The watchdog, the bridge being in coast (P-8.4). */
export async function checkWatchdog(rig: RigUnderCheck): Promise<void> {
  const { line, judge } = rig
  const watchdogSec = rig.limits?.watchdogSec ?? 0.3
  await line.pause(500 * watchdogSec)
  const last = await ask(rig, 'alive')
  if (last?.answer.kind !== 'ok') return
  const from = line.lines.length
  const seen = await line.waitFor(from, isEvent('trip'))
  const trip = eventsFrom(rig, from).find(e => e.event.name === 'trip')
  if (!seen || trip?.event.name !== 'trip') {
    judge.broken('P-8.4', `armed, and no trip after ${watchdogSec} s of silence`, null)
    return
  }
  judge.expect('P-8.4', trip.event.code === 'watchdog', 'must be code=watchdog', seen.raw)
  const silentMs = step32(last.answer.timeUs, trip.timeUs) / 1000
  const text = `tripped ${silentMs.toFixed(0)} ms after the last request; watchdog-ms is ${1000 * watchdogSec}`
  const good = silentMs >= 1000 * watchdogSec - 20 && silentMs <= 1000 * watchdogSec + 10
  judge.expect('P-8.4', good, text, seen.raw)
  const off = trip.event.limit
  judge.expect('P-7.5', off === watchdogSec, `limit=${off}; must be in seconds`, seen.raw)
  await judgeAfterTrip(rig, 'watchdog')
}

/** The smallest current limit that there is (P-8.5). */
export async function checkCurrentLimit(rig: RigUnderCheck, gentle: GentleDrive): Promise<void> {
  const { line, judge } = rig
  const from = line.lines.length
  const begun = await ask(rig, driveText({ ...gentle, milliAmp: 1 }, 200))
  if (begun?.answer.kind !== 'ok') return
  await line.waitFor(from, isEvent('drive-ended'))
  await line.pause(30)
  const events = eventsFrom(rig, from)
  const trip = events.find(e => e.event.name === 'trip')
  // Without a motor no current flows, and nothing is shown either way.
  if (trip?.event.name !== 'trip') return
  const { raw } = trip.line
  const { code, value, limit } = trip.event
  const named = code === 'over-current' && Math.abs(value) > limit && limit === 0.001
  judge.expect('P-8.5', named, 'must be code=over-current, value above limit=0.001', raw)
  judge.expect('P-7.5', inOrder(events), 'must follow bridge and drive-ended by=trip', raw)
  await judgeAfterTrip(rig, 'over-current')
}

function inOrder(events: readonly SeenEvent[]): boolean {
  const names = events.map(e => e.event.name)
  const at = names.indexOf('trip')
  const ended = events[at - 1]?.event
  const bridge = events[at - 2]?.event
  return (
    ended?.name === 'drive-ended' &&
    ended.by === 'trip' &&
    bridge?.name === 'bridge' &&
    bridge.by === 'trip' &&
    bridge.mode === 'coast'
  )
}

async function judgeAfterTrip(rig: RigUnderCheck, code: string): Promise<void> {
  const status = await statusOf(rig)
  if (!status) return
  const off = !status.armed && status.bridge === 'coast'
  rig.judge.expect('P-8.5', off, `after ${code}: must be disarmed and in coast`, null)
  const told = status.lastTrip === code
  rig.judge.expect('P-5.8', told, `trip=${status.lastTrip} after ${code}`, null)
  await refused(rig, COAST, 'P-8.5', 'not-armed')
}
