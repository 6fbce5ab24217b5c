import { spawn } from 'node:child_process'
import { createInterface } from 'node:readline'
import { expect, onTestFinished, test } from 'vitest'
import type { KeptRun } from '../support/plans.ts'
import { openSerialLink } from '../../server/link/serial-link.ts'
import { readStatus, sayHello } from '../../server/session/hello.ts'
import { RigTalk } from '../../server/session/rig-talk.ts'
import { connectTo, startRig } from '../support/bench-at-work.ts'
import { coast, columnOf, drive, planOf, requestOf } from '../support/plans.ts'

/** Deadlines of the safety promises, through a pseudo-terminal, by the rig's own clock. */

const HOST_STOP_SEC = 0.1
const WATCHDOG_SEC = 0.3

const pause = (ms: number) => new Promise(resolve => setTimeout(resolve, ms))

async function until(what: () => boolean): Promise<void> {
  while (!what()) await pause(1)
}

/** Rig time of the newest sample that the host has. */
function newestSec(run: KeptRun): number {
  const last = run.chunks.at(-1)!
  return last.startSec + last.sampleCount * last.intervalSec
}

const offSec = (run: KeptRun) => run.edges.findLast(edge => edge.state === 'coast')!.timeSec

test('a stop opens the bridge within 100 ms', async () => {
  const rig = await startRig()
  const { session, recorder } = await connectTo(() => rig.open())
  for (let trial = 0; trial < 3; trial++) {
    const running = session.run(requestOf(planOf([coast(0.05), drive(6, 5)])))
    await until(() => (recorder.runs[trial]?.edges.length ?? 0) > 0)
    await pause(150)
    const stoppedSec = newestSec(recorder.runs[trial]!)
    await session.stop('stop')
    expect(await running).toMatchObject({ ending: 'stopped' })
    // The newest sample was up to 20 ms old: the true delay is shorter than this.
    expect(offSec(recorder.runs[trial]!) - stoppedSec).toBeLessThan(HOST_STOP_SEC)
  }
})

test('what the host’s watch sees opens the bridge within 100 ms of the sample that showed it', async () => {
  const rig = await startRig()
  await rig.do({ act: 'shaft', shaft: { hold: 'slipping', angleRad: 0, slipNm: 0.001 } })
  const { session, recorder } = await connectTo(() => rig.open())
  const outcome = await session.run(
    requestOf(planOf([coast(0.05), drive(6, 3)], { shaft: 'locked' })),
  )
  expect(outcome).toMatchObject({ ending: 'tripped', trip: { by: 'host', code: 'slip' } })
  const [run] = recorder.runs
  const note = run!.notes.find(({ code }) => code === 'slip')!
  // The note carries the newest sample that was looked at; the sample that tripped is not later.
  const speed = columnOf(run!, 'speed')
  const seenSec = note.timeSec!
  expect(Math.abs(speed[Math.round(seenSec * 10_000) - 1]!)).toBeGreaterThan(1)
  expect(offSec(run!) - seenSec).toBeLessThan(HOST_STOP_SEC)
})

// P-8.5
test('over-current opens the bridge within a millisecond, whatever the host does', async () => {
  const rig = await startRig()
  await rig.setShaft('locked', 0.4)
  const { session, recorder } = await connectTo(() => rig.open())
  const limit = 0.4
  const outcome = await session.run(requestOf(planOf([coast(0.05), drive(12, 1, limit)])))
  expect(outcome).toMatchObject({ ending: 'tripped', trip: { by: 'rig', code: 'over-current' } })
  const run = recorder.runs[0]!
  const current = columnOf(run, 'current')
  const off = offSec(run)
  const exceeded = current.findIndex(amp => amp > limit)
  // The filter and window of the current sensor show the excess a little later than it was.
  if (exceeded >= 0) expect(off - exceeded / 10_000).toBeLessThan(1e-3)
  expect(off - run.edges[0]!.timeSec).toBeLessThan(10e-3)
})

// P-8.4
test('a host that is killed leaves the motor to the watchdog: bridge off within 300 ms', async () => {
  const rig = await startRig()
  const host = spawn(
    process.execPath,
    ['--import', 'tsx', new URL('doomed-host.ts', import.meta.url).pathname, rig.path!],
    { stdio: ['ignore', 'pipe', 'inherit'] },
  )
  onTestFinished(() => {
    host.kill('SIGKILL')
  })
  await new Promise<void>(resolve =>
    createInterface({ input: host.stdout }).once('line', () => resolve()),
  )
  const killedMs = performance.now()
  host.kill('SIGKILL')
  await pause(600)

  const talk = new RigTalk(await openSerialLink(rig.path!), {
    upload() {},
    samples() {},
    event() {},
    fault() {},
    lost() {},
  })
  onTestFinished(() => talk.close())
  // The rig is asked before it is disarmed: what it did, it did alone.
  const status = await readStatus(talk)
  const { answer } = await talk.ask({ verb: 'alive' })
  const sinceKillSec = (performance.now() - killedMs) / 1000
  expect(status).toMatchObject({ armed: false, bridge: 'coast', lastTrip: 'watchdog' })
  const nowUs = answer.kind === 'ok' ? answer.timeUs : Number.NaN
  const tripAfterKillSec = sinceKillSec - (nowUs - status.lastTripTimeUs) / 1e6
  // Its last line came at most 100 ms before it died (the keep-alive), the trip 300 ms after that line.
  expect(tripAfterKillSec).toBeLessThan(WATCHDOG_SEC + 0.05)
  expect(tripAfterKillSec).toBeGreaterThan(WATCHDOG_SEC - 0.2)
  await sayHello(talk)
})

test('a host that stands still finds its run tripped by the rig', async () => {
  const rig = await startRig()
  const { session, recorder } = await connectTo(() => rig.open())
  const running = session.run(requestOf(planOf([coast(0.05), drive(3, 5)])))
  await until(() => (recorder.runs[0]?.edges.length ?? 0) > 0)
  await pause(100)
  const end = performance.now() + 500
  while (performance.now() < end);
  const outcome = await running
  expect(outcome).toMatchObject({ ending: 'tripped', trip: { by: 'rig', code: 'watchdog' } })
  expect(outcome.counters.samplesLost).toBe(0)
})

test('a silent link: the host gives up within half a second, the rig has acted before', async () => {
  const rig = await startRig()
  const { session, recorder, events } = await connectTo(() => rig.open())
  const running = session.run(requestOf(planOf([coast(0.05), drive(3, 5)])))
  await until(() => (recorder.runs[0]?.edges.length ?? 0) > 0)
  await pause(100)
  await rig.do({ act: 'mute', on: true })
  const mutedMs = performance.now()
  await until(() => events.some(event => event.type === 'trip'))
  expect(performance.now() - mutedMs).toBeLessThan(500)
  const outcome = await running
  expect(outcome).toMatchObject({ ending: 'link-lost', trip: { by: 'host', code: 'link-silent' } })
  expect(outcome.text).toMatch(/did not acknowledge it: its own watchdog opens the bridge/)
  expect(session.state).toBe('lost')
  expect(recorder.runs[0]!.finished!.counters.samples).toBeGreaterThan(1000)

  await rig.do({ act: 'mute', on: false })
  const talk = new RigTalk(await rig.open(), {
    upload() {},
    samples() {},
    event() {},
    fault() {},
    lost() {},
  })
  onTestFinished(() => talk.close())
  expect(await readStatus(talk)).toMatchObject({ armed: false, lastTrip: 'watchdog' })
})
