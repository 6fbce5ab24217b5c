import { expect, test } from 'vitest'
import { connectTo, startRig } from '../support/bench-at-work.ts'
import { IN_REAL_TIME, columnOf, coast, drive, planOf, requestOf } from '../support/plans.ts'

test.each(['pseudo-terminal', 'in-process'] as const)(
  'drives a plan %s, keeps every sample and every edge, and leaves the rig at rest',
  IN_REAL_TIME,
  async via => {
    const rig = await startRig({ via })
    const { session, recorder, events } = await connectTo(() => rig.open())
    const plan = planOf([coast(0.1), drive(3, 0.3), drive(6, 0.3), coast(0.2)])
    const outcome = await session.run(requestOf(plan))
    expect(outcome).toMatchObject({ ending: 'complete', trip: null })
    expect(outcome.counters.samplesLost).toBe(0)
    expect(outcome.counters.linesRejected).toBe(0)
    const run = recorder.runs[0]!
    expect(run.finished).toMatchObject({ ending: 'complete', counters: outcome.counters })
    expect(outcome.counters.samples).toBe(run.chunks.reduce((sum, c) => sum + c.sampleCount, 0))
    expect(outcome.counters.samples).toBeGreaterThan(8900)
    expect(run.edges.map(edge => [edge.state, edge.setVolt])).toEqual([
      ['drive', 3],
      ['drive', 6],
      ['coast', null],
    ])
    const [first, second, third] = run.edges.map(edge => edge.timeSec)
    expect(second! - first!).toBeCloseTo(0.3, 1)
    expect(third! - second!).toBeCloseTo(0.3, 1)
    const speed = columnOf(run, 'speed')
    expect(Math.abs(speed[0]!)).toBeLessThan(1)
    expect(speed[Math.round(third! * 1e4) - 20]!).toBeGreaterThan(100)
    expect(session.state).toBe('ready')
    expect(session.runId).toBeNull()
    expect(events.filter(event => event.type === 'step').map(event => event.text)).toEqual([
      'coast',
      '3 V',
      '6 V',
      'coast',
    ])
    expect(events.at(-1)).toMatchObject({ type: 'run-ended', ending: 'complete' })
  },
)
