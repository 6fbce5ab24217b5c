import type { SeenLine } from '../check-line.ts'
import {
  ask,
  eventsFrom,
  granted,
  isEvent,
  refused,
  type RigUnderCheck,
  type SeenEvent,
  statusOf,
  step32,
} from '../rig-under-check.ts'
import { driveText, type GentleDrive, pauseAlive, planGentle, tripped } from './gentle-drive.ts'
import { checkTrips } from './trips.ts'
import { allChannels, samplingText } from './stream.ts'

/** An event belongs to the answer that says the same moment (P-7.1, P-8.3). */
const SAME_MOMENT_US = 10
const DURATION_US = 1000

/** What only shows when the bridge works: a few gentle pulses, most of a tenth of a second (P-8). */
export async function checkDriving(rig: RigUnderCheck): Promise<void> {
  const gentle = await planGentle(rig)
  if (gentle === null) return
  if (!(await granted(rig, 'arm', 'P-8.2'))) return
  const armed = await statusOf(rig)
  const still = armed?.armed === true && armed.bridge === 'coast'
  rig.judge.expect('P-8.2', still, 'arming must arm and leave the bridge in coast', null)
  await checkPulse(rig, gentle, 'coast', 'P-8.3')
  await checkPulse(rig, gentle, 'brake', 'P-8.3')
  await checkRenewal(rig, gentle)
  await checkLimits(rig)
  await checkStopping(rig, gentle)
  await checkUnderLoad(rig, gentle)
  await checkBridgeBurst(rig, gentle)
  await checkTrips(rig, gentle)
  await ask(rig, 'disarm')
}

async function checkPulse(
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
  const end = await line.waitFor(from, isEvent('drive-ended'), ms + 200)
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
  const lateMs = end.atMs - begun.line.atMs - step32(timeUs, ended.timeUs) / 1000
  judge.expect('P-7.1', lateMs <= 40, `the event came ${lateMs.toFixed(0)} ms late`, end.raw)
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

async function checkRenewal(rig: RigUnderCheck, gentle: GentleDrive): Promise<void> {
  const { line, judge } = rig
  const from = line.lines.length
  for (let i = 0; i < 4; i++) {
    await ask(rig, driveText(gentle, 120))
    await line.pause(60)
  }
  await line.waitFor(from, isEvent('drive-ended'), 400)
  await line.pause(50)
  const events = eventsFrom(rig, from)
  if (tripped(rig, events)) return
  const edges = events.filter(e => e.event.name === 'bridge')
  const ends = events.filter(e => e.event.name === 'drive-ended')
  const text = `four overlapping drives made ${edges.length} bridge events and ${ends.length} ends; must be 2 and 1`
  const good = edges.length === 2 && ends.length === 1
  judge.expect('P-8.3', good, text, (edges[1] ?? ends[0])?.line.raw ?? null)
}

async function checkLimits(rig: RigUnderCheck): Promise<void> {
  const { limits, identity } = rig
  if (!limits) return
  const ms = Math.round(1000 * limits.longestDriveSec)
  const ma = Math.round(1000 * limits.currentAmp)
  await refused(
    rig,
    `drive mode=coast duration-ms=${ms + 1} current-ma=${ma} after=coast`,
    'P-8.3',
    'over-limit',
    'bad-value',
  )
  await refused(
    rig,
    `drive mode=coast duration-ms=10 current-ma=${ma + 1} after=coast`,
    'P-8.3',
    'over-limit',
    'bad-value',
  )
  // A rig that gets this one wrong would drive at full voltage: only where nothing can move.
  if (!identity?.simulated) return
  const mv = Math.round(1000 * limits.driveVolt) + 1
  const rest = `voltage-mv=${mv} duration-ms=1 current-ma=${ma} after=coast`
  await refused(rig, `drive mode=voltage ${rest}`, 'P-8.3', 'over-limit', 'bad-value')
}

async function checkStopping(rig: RigUnderCheck, gentle: GentleDrive): Promise<void> {
  const { line, judge } = rig
  for (const verb of ['stop', 'disarm'] as const) {
    await ask(rig, 'arm')
    const from = line.lines.length
    await ask(rig, driveText(gentle, 2000))
    await line.pause(50)
    await granted(rig, verb, 'P-8.7')
    const end = await line.waitFor(from, isEvent('drive-ended'), 200)
    const events = eventsFrom(rig, from)
    if (tripped(rig, events)) return
    const by = events.find(e => e.event.name === 'drive-ended')?.event
    const good = by?.name === 'drive-ended' && by.by === verb
    judge.expect('P-8.7', good, `${verb} did not end the drive`, end?.raw ?? null)
    const status = await statusOf(rig)
    const settled = status?.bridge === 'coast' && status.armed === (verb === 'stop')
    judge.expect('P-8.7', settled, `after ${verb}: wrong state of bridge or arming`, null)
  }
}

/** The duration holds while the rig streams at its fastest and uploads (P-8.8). */
async function checkUnderLoad(rig: RigUnderCheck, gentle: GentleDrive): Promise<void> {
  const format = rig.rates.some(r => r.block) ? 'block' : 'decimal'
  const fastest = rig.rates.find(r => r[format])
  if (!fastest) return
  rig.line.setLayout(rig.channels, rig.channels)
  await ask(rig, samplingText(fastest.periodNs, format, allChannels(rig)))
  await ask(rig, 'stream mode=on')
  await ask(rig, 'arm')
  await checkPulse(rig, gentle, 'coast', 'P-8.8')
  await ask(rig, 'stream mode=off')
}

async function checkBridgeBurst(rig: RigUnderCheck, gentle: GentleDrive): Promise<void> {
  const memory = rig.limits?.burst
  if (!memory) return
  const { line, judge } = rig
  const from = line.lines.length
  const samples = Math.min(100, memory.samples)
  const before = Math.floor(samples / 2)
  await ask(rig, `burst samples=${samples} before=${before} trigger=bridge`)
  await pauseAlive(rig, 100 + (before * memory.periodNs) / 1e6)
  await ask(rig, driveText(gentle, 100))
  const ready = await line.waitFor(from, isEvent('burst-ready'), 500)
  const edge = eventsFrom(rig, from).find(e => e.event.name === 'bridge')
  const done = eventsFrom(rig, from).find(e => e.event.name === 'burst-ready')
  const raw: SeenLine['raw'] | null = ready?.raw ?? null
  if (!edge || done?.event.name !== 'burst-ready') {
    judge.broken('P-9.4', 'no burst-ready after the bridge changed', raw)
    return
  }
  const full = done.event.samples === samples && done.event.before === before
  judge.expect('P-9.4', full, `must hold ${samples} samples, ${before} of them before`, raw)
  const gapUs = step32(edge.timeUs, done.timeUs)
  const near = gapUs >= -1 && gapUs <= memory.periodNs / 1000 + 11
  judge.expect('P-9.4', near, `its first sample is ${gapUs} us after the bridge event`, raw)
  await pauseAlive(rig, 150)
}
