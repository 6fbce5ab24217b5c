import type { SeenLine } from '../check-line.ts'
import {
  ask,
  type Check,
  eventsFrom,
  granted,
  isEvent,
  refused,
  type RigUnderCheck,
  statusOf,
  step32,
} from '../rig-under-check.ts'
import { driveText, type GentleDrive, pauseAlive, planGentle, tripped } from './gentle-drive.ts'
import { checkPulse, judgeDelays } from './pulse.ts'
import { checkCurrentLimit, checkWatchdog } from './trips.ts'
import { allChannels, samplingText } from './stream.ts'

const RENEWED_MS = 120
/** The bridge follows a request within 2 ms (P-8.3). */
const AT_ONCE_US = 2000

/** What only shows when the bridge works: a few gentle pulses, most of a tenth of a second (P-8). */
export const driveChecks = (): Check[] => [
  checkArming,
  armed((rig, gentle) => checkPulse(rig, gentle, 'coast', 'P-8.3')),
  armed((rig, gentle) => checkPulse(rig, gentle, 'brake', 'P-8.3')),
  armed(checkRenewal),
  armed(checkLimits),
  armed((rig, gentle) => checkStopping(rig, gentle, 'stop')),
  armed((rig, gentle) => checkStopping(rig, gentle, 'disarm')),
  armed(checkUnderLoad),
  armed(checkBridgeBurst),
  armed(checkWatchdog),
  armed(checkCurrentLimit),
  judgeDelays,
]

/** A check that finds the rig armed and leaves it disarmed. */
function armed(check: (rig: RigUnderCheck, gentle: GentleDrive) => Promise<void>): Check {
  return async rig => {
    const gentle = await planGentle(rig)
    if (gentle === null || !(await granted(rig, 'arm', 'P-8.2'))) return
    await check(rig, gentle)
    await ask(rig, 'disarm')
  }
}

async function checkArming(rig: RigUnderCheck): Promise<void> {
  if (!(await granted(rig, 'arm', 'P-8.2'))) return
  const status = await statusOf(rig)
  const still = status?.armed === true && status.bridge === 'coast'
  rig.judge.expect('P-8.2', still, 'arming must arm and leave the bridge in coast', null)
  await ask(rig, 'disarm')
}

async function checkRenewal(rig: RigUnderCheck, gentle: GentleDrive): Promise<void> {
  const { line, judge } = rig
  const from = line.lines.length
  const begun: number[] = []
  for (let i = 0; i < 4; i++) {
    const { answer } = (await ask(rig, driveText(gentle, RENEWED_MS))) ?? {}
    if (answer?.kind === 'ok') begun.push(answer.timeUs)
    await line.pause(RENEWED_MS / 2)
  }
  // By the rig's own clock: did they overlap at all?
  const late = begun.some((t, i) => i > 0 && step32(begun[i - 1]!, t) > 900 * RENEWED_MS)
  await line.waitFor(from, isEvent('drive-ended'))
  await line.pause(50)
  const events = eventsFrom(rig, from)
  if (late || tripped(rig, events)) return
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

async function checkStopping(
  rig: RigUnderCheck,
  gentle: GentleDrive,
  verb: 'stop' | 'disarm',
): Promise<void> {
  const { line, judge } = rig
  const from = line.lines.length
  await ask(rig, driveText(gentle, 2000))
  await line.pause(50)
  const stopped = await ask(rig, verb)
  if (!stopped) return
  const { answer } = stopped
  if (answer.kind === 'error') {
    judge.broken('P-8.7', `'${verb}' was refused: ${answer.code}`, stopped.line.raw)
    return
  }
  const end = await line.waitFor(from, isEvent('drive-ended'))
  const ended = eventsFrom(rig, from).find(e => e.event.name === 'drive-ended')
  const lateUs = ended ? step32(answer.timeUs, ended.timeUs) : 0
  if (lateUs < -AT_ONCE_US) return // it had tripped before
  const by = ended?.event.name === 'drive-ended' ? ended.event.by : null
  const good = by === verb && lateUs <= AT_ONCE_US
  judge.expect('P-8.7', good, `${verb} did not end the drive at once`, end?.raw ?? null)
  const status = await statusOf(rig)
  const settled = status?.bridge === 'coast' && status.armed === (verb === 'stop')
  judge.expect('P-8.7', settled, `after ${verb}: wrong state of bridge or arming`, null)
}

/** The duration holds while the rig streams at its fastest and uploads (P-8.8). */
async function checkUnderLoad(rig: RigUnderCheck, gentle: GentleDrive): Promise<void> {
  const format = rig.rates.some(r => r.block) ? 'block' : 'decimal'
  const fastest = rig.rates.find(r => r[format])
  if (!fastest) return
  rig.line.setLayout(rig.channels, rig.channels)
  await ask(rig, samplingText(fastest.periodNs, format, allChannels(rig)))
  await ask(rig, 'stream mode=on')
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
  const ready = await line.waitFor(from, isEvent('burst-ready'))
  if (tripped(rig, eventsFrom(rig, from))) return
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
