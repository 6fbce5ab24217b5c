import { expect, onTestFinished, test } from 'vitest'
import { connectBench } from '../../server/session/connect.ts'
import { InputFault, WorkFault } from '../../src/base/faults.ts'
import { connectTo, type SessionAtWork } from '../support/bench-at-work.ts'
import { coast, drive, planOf, requestOf, memoryRecorder } from '../support/plans.ts'
import { FakeHardware } from '../support/fake-hardware.ts'
import { LiveFakeRig } from '../support/live-fake-rig.ts'

/** A rig that does not say that it is simulated. */
function earnestRig(): LiveFakeRig {
  const hardware = new FakeHardware()
  hardware.identity = { ...hardware.identity, simulated: false }
  return new LiveFakeRig(hardware)
}

async function failureOf(work: Promise<unknown>): Promise<Error> {
  return work.then(
    () => {
      throw new Error('it did not fail')
    },
    (error: Error) => error,
  )
}

const spin = planOf([drive(6, 0.2, 4), coast(0.05)])

test('drives no real motor before the cautions were acknowledged on this connection', async () => {
  const fake = earnestRig()
  const { session, recorder } = await connectTo(() => fake.open())
  const refusal = await failureOf(session.run(requestOf(spin)))
  expect(refusal).toBeInstanceOf(InputFault)
  expect(refusal.message).toMatch(/cautions/)
  expect(fake.heard).not.toMatch(/ arm\*| drive /)
  expect(recorder.runs).toHaveLength(0)

  const acknowledged = session.acknowledgeCautions()
  expect(await session.run({ ...requestOf(spin), acknowledged })).toMatchObject({
    ending: 'complete',
  })
  fake.cut()
  await untilState(session, 'lost')
  await session.resume()
  const again = await failureOf(session.run({ ...requestOf(spin), acknowledged }))
  expect(again.message).toMatch(/not acknowledged on this connection/)
})

test('reads a real rig at rest without cautions: nothing is armed', async () => {
  const fake = earnestRig()
  const { session } = await connectTo(() => fake.open())
  const outcome = await session.run(requestOf(planOf([coast(0.1)], { kind: 'zero' })))
  expect(outcome.ending).toBe('complete')
  expect(fake.heard).not.toMatch(/ arm\*| drive /)
})

const unfit: [what: string, plan: ReturnType<typeof planOf>, told: RegExp][] = [
  ['a voltage', planOf([drive(25, 1, 4)]), /25 V; the rig drives at most 24 V/],
  ['a current limit', planOf([drive(6, 1, 13)]), /13 A; must be from 0.001 A to the rig's 12 A/],
  ['a missing limit', planOf([drive(6, 1, 0)]), /current limit of 0 A/],
  ['a duration', planOf([coast(1), drive(6, 11, 4)]), /step 2 .* 11 s are longer/],
  ['a duration of nothing', planOf([drive(6, 0, 4)]), /duration of 0 s/],
  ['a number that is none', planOf([drive(Number.NaN, 1, 4)]), /NaN V/],
  ['a rate', planOf([drive(6, 1, 4)], { rateHz: 12_345 }), /offers 20, 1000, 10000 Hz/],
  ['an empty plan', planOf([]), /no steps/],
]
test.each(unfit)(
  'refuses %s that the rig would refuse, before anything is armed',
  async (_, plan, told) => {
    const fake = new LiveFakeRig()
    const { session, recorder } = await connectTo(() => fake.open())
    const refusal = await failureOf(session.run(requestOf(plan)))
    expect(refusal).toBeInstanceOf(InputFault)
    expect(refusal.message).toMatch(told)
    expect(fake.heard).not.toMatch(/ arm\*/)
    expect(recorder.runs).toHaveLength(0)
    expect(session.state).toBe('ready')
  },
)

test('above 60 V DC drives only where the bench is declared fit for it', async () => {
  const hardware = new FakeHardware()
  hardware.limits = { ...hardware.limits, driveVolt: 80, busHighVolt: 100 }
  hardware.busVolt = 72
  const fake = new LiveFakeRig(hardware)
  const { session } = await connectTo(() => fake.open())
  const refusal = await failureOf(session.run(requestOf(planOf([drive(65, 0.1, 4)]))))
  expect(refusal.message).toMatch(/72.0 V are above 60 V DC/)
})

test('says why a rig would not be armed', async () => {
  const hardware = new FakeHardware()
  hardware.busVolt = 3
  const fake = new LiveFakeRig(hardware)
  const { session, recorder } = await connectTo(() => fake.open())
  const refusal = await failureOf(session.run(requestOf(spin)))
  expect(refusal).toBeInstanceOf(WorkFault)
  expect(refusal.message).toMatch(/refused 'arm': unsafe/)
  expect(recorder.runs).toHaveLength(0)
  expect(session.state).toBe('ready')
})

test('stop ends the run, keeps its samples, and says whose word it was', async () => {
  const fake = new LiveFakeRig()
  const { session, recorder } = await connectTo(() => fake.open())
  const running = session.run(requestOf(planOf([drive(6, 5, 4)])))
  await untilDriving(fake)
  await session.stop('the operator pressed stop')
  expect(fake.hardware.mode).toBe('coast')
  expect(fake.rig.armed).toBe(false)
  expect(await running).toMatchObject({ ending: 'stopped', text: 'the operator pressed stop' })
  expect(recorder.runs[0]!.chunks.length).toBeGreaterThan(0)
  expect(recorder.runs[0]!.edges.map(edge => edge.state)).toEqual(['drive', 'coast'])
})

test('a stop while the run is being prepared is not forgotten', async () => {
  const fake = new LiveFakeRig()
  const { session } = await connectTo(() => fake.open())
  const running = session.run(requestOf(planOf([drive(6, 5, 4)])))
  await session.stop('changed my mind')
  expect(await running).toMatchObject({ ending: 'stopped', text: 'changed my mind' })
  expect(fake.heard).not.toMatch(/ drive /)
})

test('an aborted signal stops the motor', async () => {
  const fake = new LiveFakeRig()
  const { session } = await connectTo(() => fake.open())
  const abort = new AbortController()
  const running = session.run({
    ...requestOf(planOf([drive(6, 5, 4)])),
    signal: abort.signal,
  })
  await untilDriving(fake)
  abort.abort(new Error('Ctrl-C'))
  expect(await running).toMatchObject({ ending: 'stopped', text: 'Ctrl-C' })
  expect(fake.hardware.mode).toBe('coast')
})

test('stop is said again until the rig acknowledges it', async () => {
  const fake = new LiveFakeRig()
  const { session } = await connectTo(() => fake.open())
  const running = session.run(requestOf(planOf([drive(6, 5, 4)])))
  await untilDriving(fake)
  fake.pass = () => new Uint8Array(0)
  setTimeout(() => {
    fake.pass = bytes => bytes
  }, 150)
  await session.stop('stop')
  expect(fake.heard.match(/ disarm\*/g)!.length).toBeGreaterThan(3)
  expect((await running).ending).toBe('stopped')
})

test('what the watch sees opens the bridge: samples above the limit', async () => {
  const fake = new LiveFakeRig()
  const { session, events, recorder } = await connectTo(() => fake.open())
  const guard = {
    limits: {
      currentAmp: 2,
      currentLimitedBy: 'the test',
      voltageVolt: 24,
      voltageLimitedBy: 'the test',
      busVolt: 30,
      speedRadPerSec: null,
      riseKelvin: 30,
      stallSec: 1,
      stepSec: 10,
    },
    allowedMeanRiseKelvin: 30,
    brushVolt: 0,
    startCelsius: 20,
    pwmHz: null,
  }
  const outcome = await session.run(requestOf(planOf([drive(6, 5, 4)], { guard })))
  expect(outcome).toMatchObject({ ending: 'tripped', trip: { by: 'host', code: 'over-current' } })
  expect(fake.hardware.mode).toBe('coast')
  expect(events).toContainEqual(expect.objectContaining({ type: 'trip', by: 'host' }))
  expect(recorder.runs[0]!.notes).toContainEqual(expect.objectContaining({ code: 'over-current' }))
})

test('what the rig sees is told as the rig’s trip', async () => {
  const fake = new LiveFakeRig()
  const { session, events, recorder } = await connectTo(() => fake.open())
  const outcome = await session.run(requestOf(planOf([drive(10, 5, 4)])))
  expect(outcome.trip).toMatchObject({ by: 'rig', code: 'over-current' })
  expect(outcome.text).toMatch(/over current, 5 A where 4 A are allowed/)
  expect(events.filter(event => event.type === 'trip')).toHaveLength(1)
  expect(recorder.runs[0]!.notes.filter(note => note.code === 'trip')).toHaveLength(1)
})

test('nothing is driven that is not stored', async () => {
  const fake = new LiveFakeRig()
  const { session, recorder } = await connectTo(() => fake.open())
  const running = session.run(requestOf(planOf([drive(6, 5, 4)])))
  await untilDriving(fake)
  Object.assign(recorder.runs[0]!, { health: { state: 'failed', text: 'the disk is full' } })
  expect(await running).toMatchObject({ ending: 'tripped', text: 'the disk is full' })
  expect(fake.hardware.mode).toBe('coast')
})

test('the keep-alive does not wait for a slow disk', async () => {
  const fake = new LiveFakeRig()
  const slow = memoryRecorder()
  const session = await connectBench({
    open: () => fake.open(),
    recorder: async facts => {
      // Armed by now, and the store takes longer than the watchdog waits.
      await new Promise(resolve => setTimeout(resolve, 700))
      return slow.begin(facts)
    },
  })
  onTestFinished(() => session.close())
  expect(await session.run(requestOf(spin))).toMatchObject({ ending: 'complete', trip: null })
})

test('one thing at a time', async () => {
  const fake = new LiveFakeRig()
  const { session } = await connectTo(() => fake.open())
  const running = session.run(requestOf(spin))
  expect((await failureOf(session.run(requestOf(spin)))).message).toMatch(/busy \(running\)/)
  expect((await failureOf(session.monitor(1000))).message).toMatch(/busy/)
  expect((await running).ending).toBe('complete')
})

async function untilDriving(fake: LiveFakeRig): Promise<void> {
  while (fake.hardware.mode !== 'drive') await new Promise(resolve => setTimeout(resolve, 5))
}

async function untilState(session: SessionAtWork['session'], state: string): Promise<void> {
  while (session.state !== state) await new Promise(resolve => setTimeout(resolve, 5))
}
