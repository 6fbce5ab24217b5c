import type { BenchView, RigView, SequenceScreen } from '../../../src/contract/http-bench.ts'
import type { StillBench } from '../../http/support/still-bench.ts'

/** States of the bench as the page may find them, for looking at each. */
export interface BenchScene {
  set(bench: StillBench): void
  /** Live readings that follow. */
  play(bench: StillBench): void
}

type Changes = Partial<Omit<BenchView, 'driver'>>

const RIG: RigView = {
  model: 'Bench rig',
  serialNumber: 'R-00042',
  firmware: '1.4',
  protocolVersion: '1',
  simulated: false,
  highestRateHz: 10_000,
  channels: [
    { name: 'v', quantity: 'voltage', noise: 0.004, rangeLow: -36, rangeHigh: 36 },
    { name: 'i', quantity: 'current', noise: 0.006, rangeLow: -20, rangeHigh: 20 },
    { name: 'n', quantity: 'speed', noise: 0.4, rangeLow: -800, rangeHigh: 800 },
  ],
  limits: {
    driveVolt: 28,
    currentAmp: 15,
    busVolt: 40,
    speedRadPerSec: 600,
    stallSec: 2,
    longestDriveSec: 10,
    watchdogSec: 0.3,
  },
}

const STEPS = [
  ['cautions', 'Cautions'],
  ['questions', 'Bench'],
  ['zero', 'Zero'],
  ['soak', 'Soak check'],
  ['first-spin', 'First turn'],
  ['locked-rotor', 'Locked rotor'],
  ['unlock', 'Locking bar off'],
  ['free-run', 'Free run'],
  ['run-up', 'Run-up'],
  ['coast-down', 'Coast-down'],
  ['recheck', 'Check of k'],
  ['identify', 'Identification'],
] as const

function sequenceAt(current: string, changes: Partial<SequenceScreen>): SequenceScreen {
  const place = STEPS.findIndex(([id]) => id === current)
  return {
    motor: 'Fennimore, sample 3',
    steps: STEPS.map(([id, title], index) => ({
      id,
      title,
      status: index < place ? 'done' : index === place ? 'current' : 'to-do',
      note: null,
    })),
    current,
    phase: 'asking',
    operatorDoes: '',
    rigDoes: '',
    question: null,
    waitLeftSec: null,
    waitWhy: null,
    progress: place / STEPS.length,
    leftSec: (STEPS.length - place) * 40,
    may: { back: place > 0, repeat: true, skip: true, resume: false },
    pausedBecause: null,
    warnings: [],
    ...changes,
  }
}

const NOTHING: Changes = {
  state: 'none',
  port: null,
  text: 'Choose a port.',
  rig: null,
  counters: null,
  running: null,
  sequence: null,
  sequenceMotorId: null,
}

const READY: Changes = {
  ...NOTHING,
  state: 'ready',
  port: '/dev/ttyUSB0',
  text: 'Bench rig, serial number R-00042',
  rig: RIG,
  counters: { samples: 48_000, samplesLost: 0, linesRejected: 0, bytes: 1_200_000 },
  sequenceMotorId: 1,
}

/** Repeats the newest reading, as long as a scene lasts: a page shows no reading that has grown old. */
let repeating: ReturnType<typeof setInterval> | undefined

const scene = (changes: Changes, level = 0): BenchScene => ({
  set(bench) {
    clearInterval(repeating)
    bench.set(changes)
  },
  play: bench => playReadings(bench, changes.running?.runId ?? null, level),
})

/** Twelve seconds of a free run in steps, as envelopes; `level` 0 is a bench at rest. */
function playReadings(bench: StillBench, runId: number | null, level: number): void {
  if (level === 0) return
  const ripple = (n: number) => Math.sin(n * 12.9898) * 0.5
  let speed = 0
  const tell = (n: number) => {
    const step = Math.min(4, Math.floor(n / 100) + 1) / 4
    const target = 450 * step * level
    speed += (target - speed) * 0.08
    const amp = 0.35 + ((target - speed) / 450) * 9
    const volt = 24 * step * level
    bench.tell({
      type: 'live',
      event: {
        type: 'envelope',
        runId,
        fromSec: n / 40,
        toSec: (n + 1) / 40,
        channels: [
          {
            quantity: 'voltage',
            low: volt - 0.05,
            mean: volt,
            high: volt + 0.05 + 0.02 * ripple(n),
          },
          {
            quantity: 'current',
            low: amp - 0.12,
            mean: amp,
            high: amp + 0.12 + 0.05 * ripple(n),
          },
          { quantity: 'speed', low: speed - 1, mean: speed, high: speed + 1 },
        ],
      },
    })
  }
  const COUNT = 480
  for (let n = 0; n < COUNT; n++) tell(n)
  let later = 0
  repeating = setInterval(() => tell(COUNT + ++later / 1000), 400)
  repeating.unref()
}

export const benchScenes: Readonly<Record<string, BenchScene>> = {
  none: scene(NOTHING),
  ready: scene(READY),
  cautions: scene({
    ...READY,
    sequence: sequenceAt('cautions', {
      rigDoes: 'Nothing: the rig is disarmed.',
      question: {
        id: 'cautions',
        step: 'cautions',
        text: 'Read the cautions. Have you understood them, and may you run this bench?',
        detail: null,
        form: { kind: 'acknowledge', label: 'I have read and understood' },
        suggested: null,
        handsNear: false,
      },
    }),
  }),
  question: scene({
    ...READY,
    sequence: sequenceAt('locked-rotor', {
      rigDoes: 'Pulses of both polarities at rising levels, a gentle one before each.',
      question: {
        id: 'clamp-2',
        step: 'locked-rotor',
        text: 'Position 2 of 5: turn the shaft to the mark at about 72° and clamp it against the full stall torque. At which angle is it clamped?',
        detail: 'After your answer the rig may drive: hands off, and out of the arc of the bar.',
        form: { kind: 'number', unit: '°', minimum: -360, maximum: 360, optional: true },
        suggested: 72,
        handsNear: true,
      },
    }),
  }),
  testing: scene(
    {
      ...READY,
      state: 'running',
      text: 'drive +24 V for 2 s: top level',
      running: {
        runId: 9,
        kind: 'free-run',
        motorId: 1,
        motor: 'Fennimore, sample 3',
        startedAtMs: 0,
        currentLimitAmp: 12,
        durationSec: 14,
      },
      sequence: sequenceAt('free-run', {
        phase: 'testing',
        operatorDoes: 'Keep clear of the shaft and watch it.',
        rigDoes:
          'Drives up to 24 V for 12 s in all; at most 9.3 A expected, bridge off above 12 A.',
      }),
    },
    1,
  ),
  paused: scene({
    ...READY,
    sequence: sequenceAt('free-run', {
      phase: 'paused',
      pausedBecause: 'stopped by the operator',
      operatorDoes: 'See what happened; then go on, repeat, skip or go back.',
      may: { back: true, repeat: true, skip: true, resume: true },
      warnings: [
        'The soak check saw the winding cool by 1.8 K in a minute; wait for it to settle.',
      ],
    }),
  }),
  lost: scene({
    ...READY,
    state: 'lost',
    text: 'the rig has gone: plug it in again, then connect again',
  }),
}
