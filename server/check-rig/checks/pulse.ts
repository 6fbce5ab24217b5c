import {
  ask,
  eventsFrom,
  isEvent,
  type RigUnderCheck,
  type SeenEvent,
  step32,
} from '../rig-under-check.ts'
import { driveText, type GentleDrive, tripped } from './gentle-drive.ts'

/** An event belongs to the answer that says the same moment (P-7.1, P-8.3). */
const SAME_MOMENT_US = 10
const DURATION_US = 1000
/** P-7.1 allows 20 ms; the answer that it is measured from may be late by as much. */
const MOST_DELAY_MS = 40

/** One drive command, its events, and its end by itself (P-7.1, P-7.3, P-7.4; `clause` for the duration). */
export async function checkPulse(
  rig: RigUnderCheck,
  gentle: GentleDrive,
  after: 'coast' | 'brake',
  clause: string,
): Promise<void> {
  const { line, judge } = rig
  const from = line.lines.length
  const ms = 150
  const begun = await ask(rig, driveText(gentle, ms, after))
  if (begun?.answer.kind !== 'ok') {
    judge.broken(clause, 'a gentle drive was refused', begun?.line.raw ?? null)
    return
  }
  const { id, timeUs } = { id: begun.id, timeUs: begun.answer.timeUs }
  const end = await line.waitFor(from, isEvent('drive-ended'))
  const events = eventsFrom(rig, from)
  const bridge = events.filter(e => e.event.name === 'bridge')
  if (tripped(rig, events)) return
  judgeBridge(rig, bridge[0], 'drive', gentle.milliVolt, 'drive', timeUs)
  judgeBridge(rig, bridge[1], after, 0, 'duration', timeUs + 1000 * ms, clause)
  if (!end) {
    judge.broken('P-7.4', `no drive-ended for request ${id}`, null)
    return
  }
  const ended = events.find(e => e.event.name === 'drive-ended')!
  const good =
    ended.event.name === 'drive-ended' &&
    ended.event.id === id &&
    ended.event.by === 'duration' &&
    ended.timeUs === bridge[1]?.timeUs
  const text = `drive-ended must have id ${id}, by=duration and the time of its bridge event`
  judge.expect('P-7.4', good, text, end.raw)
  const delayMs = end.atMs - begun.line.atMs - step32(timeUs, ended.timeUs) / 1000
  rig.eventDelays.push({ ms: delayMs, raw: end.raw })
}

/** Delays on this side can only add, so the quickest of all events counts. */
export async function judgeDelays({ judge, eventDelays }: RigUnderCheck): Promise<void> {
  const [best] = [...eventDelays].sort((a, b) => a.ms - b.ms)
  if (!best) return
  const text = `of ${eventDelays.length} events the quickest came ${best.ms.toFixed(0)} ms late`
  judge.expect('P-7.1', best.ms <= MOST_DELAY_MS, text, best.raw)
}

function judgeBridge(
  rig: RigUnderCheck,
  seen: SeenEvent | undefined,
  mode: string,
  milliVolt: number,
  by: string,
  dueUs: number,
  timeClause = 'P-7.1',
): void {
  const { judge } = rig
  if (seen?.event.name !== 'bridge') {
    judge.broken('P-7.3', `no bridge event to ${mode} by ${by}`, null)
    return
  }
  const { event, timeUs, line } = seen
  const set = Math.round(1000 * event.setVolt)
  const good = event.mode === mode && set === milliVolt && event.by === by
  judge.expect('P-7.3', good, `must be mode=${mode} set-mv=${milliVolt} by=${by}`, line.raw)
  const offUs = Math.abs(step32(dueUs >>> 0, timeUs))
  const most = timeClause === 'P-7.1' ? SAME_MOMENT_US : DURATION_US
  judge.expect(timeClause, offUs <= most, `its time is ${offUs} us off`, line.raw)
}
