import { spawn } from 'node:child_process'
import { createInterface } from 'node:readline'
import { expect, onTestFinished, test } from 'vitest'
import type { KeptRun } from '../support/plans.ts'
import type { LinkOpener } from '../../server/link/link.ts'
import { readStatus } from '../../server/session/hello.ts'
import { RigTalk } from '../../server/session/rig-talk.ts'
import { connectTo, startRig } from '../support/bench-at-work.ts'
import { coast, columnOf, drive, IN_REAL_TIME, planOf, requestOf } from '../support/plans.ts'

/** Deadlines of the safety promises, through a pseudo-terminal, by the rig's own clock. */

const HOST_STOP_SEC = 0.1
const WATCHDOG_SEC = 0.3

const pause = (ms: number) => new Promise(resolve => setTimeout(resolve, ms))

async function until(what: () => boolean): Promise<void> {
  while (!what()) await pause(1)
}

async function talkTo(open: LinkOpener): Promise<RigTalk> {
  const nothing = () => {}
  const sink = { upload: nothing, samples: nothing, event: nothing, fault: nothing, lost: nothing }
  const talk = new RigTalk(await open(), sink)
  onTestFinished(() => talk.close())
  return talk
}

const offSec = (run: KeptRun) => run.edges.findLast(edge => edge.state === 'coast')!.timeSec

test('a stop opens the bridge within 100 ms', IN_REAL_TIME, async () => {
  const rig = await startRig()
  const { session, recorder } = await connectTo(() => rig.open())
  for (let trial = 0; trial < 3; trial++) {
    let stoppedSec = Number.NaN
    // Stopped by whoever sees samples, at the moment in which they come: what the host knows of the
    // rig's time is never fresher.
    const unlisten = session.listen(event => {
      if (event.type !== 'envelope' || event.toSec < 0.2 || !Number.isNaN(stoppedSec)) return
      stoppedSec = event.toSec
      void session.stop('stop')
    })
    const outcome = await session.run(requestOf(planOf([coast(0.05), drive(6, 5)])))
    unlisten()
    expect(outcome).toMatchObject({ ending: 'stopped' })
    const run = recorder.runs[trial]!
    expect(run.edges.map(edge => edge.state)).toEqual(['drive', 'coast'])
    expect(offSec(run)).toBeGreaterThan(stoppedSec)
    // The samples were up to 37 ms old (a block, an envelope): the true delay is shorter than this.
    expect(offSec(run) - stoppedSec).toBeLessThan(HOST_STOP_SEC)
  }
})

test(
  'what the host’s watch sees opens the bridge within 100 ms of the sample that showed it',
  IN_REAL_TIME,
  async () => {
    const rig = await startRig()
    await rig.do({ act: 'shaft', shaft: { hold: 'slipping', angleRad: 0, slipNm: 0.001 } })
    const { session, recorder } = await connectTo(() => rig.open())
    const outcome = await session.run(
      requestOf(planOf([coast(0.05), drive(6, 3)], { shaft: 'locked' })),
    )
    expect(outcome).toMatchObject({ ending: 'tripped', trip: { by: 'host', code: 'slip' } })
    const [run] = recorder.runs
    const note = run!.notes.find(({ code }) => code === 'slip')!
    const speed = columnOf(run!, 'speed')
    const seenSec = note.timeSec!
    expect(Math.abs(speed[Math.round(seenSec * 10_000) - 1]!)).toBeGreaterThan(1)
    expect(offSec(run!) - seenSec).toBeLessThan(HOST_STOP_SEC)
  },
)

// P-8.5
test(
  'over-current opens the bridge within a millisecond, whatever the host does',
  IN_REAL_TIME,
  async () => {
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
  },
)

// P-8.4
test(
  'a host that is killed leaves the motor to the watchdog: bridge off within 300 ms',
  IN_REAL_TIME,
  async () => {
    const rig = await startRig()
    const host = spawn(
      process.execPath,
      ['--import', 'tsx', new URL('doomed-host.ts', import.meta.url).pathname, rig.path!],
      { stdio: ['ignore', 'pipe', 'inherit'] },
    )
    onTestFinished(() => {
      host.kill('SIGKILL')
    })
    let lastHeardUs = 0
    let answers = 0
    createInterface({ input: host.stdout }).on('line', line => {
      lastHeardUs = Number(line)
      answers++
    })
    await until(() => answers >= 3)
    host.kill('SIGKILL')
    await pause(600)

    const talk = await talkTo(() => rig.open())
    // The rig is asked before it is disarmed: what it did, it did alone.
    const status = await readStatus(talk)
    expect(status).toMatchObject({ armed: false, bridge: 'coast', lastTrip: 'watchdog' })
    const afterSec = (status.lastTripTimeUs - lastHeardUs) / 1e6
    // One more keep-alive may have been heard whose answer the host did not live to print.
    expect(afterSec).toBeLessThan(WATCHDOG_SEC + 0.15)
    expect(afterSec).toBeGreaterThan(WATCHDOG_SEC - 0.05)
  },
)

test('a host that stands still finds its run tripped by the rig', IN_REAL_TIME, async () => {
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

test(
  'a silent link: the host gives up within half a second, the rig has acted before',
  IN_REAL_TIME,
  async () => {
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
    expect(outcome).toMatchObject({
      ending: 'link-lost',
      trip: { by: 'host', code: 'link-silent' },
    })
    expect(outcome.text).toMatch(/did not acknowledge it: its own watchdog opens the bridge/)
    expect(session.state).toBe('lost')
    expect(recorder.runs[0]!.finished!.counters.samples).toBeGreaterThan(1000)

    await rig.do({ act: 'mute', on: false })
    const talk = await talkTo(() => rig.open())
    expect(await readStatus(talk)).toMatchObject({ armed: false, lastTrip: 'watchdog' })
  },
)
