import { defineConfig } from 'vitest/config'

/** Deadlines of safety are timed by the rig's own clock; nothing else may claim a core meanwhile. */
const REAL_TIME = [
  'test/faults/**/*.test.ts',
  'test/session/**/*.test.ts',
  'test/link/**/*.test.ts',
  'test/contract/**/*.test.ts',
  'test/rig-host/**/*.test.ts',
  'test/check-rig/**/*.test.ts',
  'test/datasets/**/*.test.ts',
  'test/recorder/**/*.test.ts',
  // A practice rig behind the terminal or the page: its watch has deadlines too.
  'test/commands/batch-test.test.ts',
  'test/commands/calibrate.test.ts',
  'test/commands/log-heating.test.ts',
  'test/commands/practice-rig.test.ts',
  'test/commands/sequence.test.ts',
  'test/http/short-test.test.ts',
  'test/end-to-end/bench.test.ts',
  'test/end-to-end/journeys.test.ts',
  'test/end-to-end/short-test.test.ts',
]

export default defineConfig({
  test: {
    testTimeout: 30_000,
    hookTimeout: 60_000,
    projects: [
      {
        extends: true,
        test: {
          name: 'suite',
          include: ['test/**/*.test.ts'],
          exclude: REAL_TIME,
          maxWorkers: 2,
          sequence: { groupOrder: 0 },
        },
      },
      {
        extends: true,
        test: {
          name: 'real-time',
          include: REAL_TIME,
          // Where something else keeps the cores busy, a trial measures the scheduler instead.
          retry: 2,
          maxWorkers: 1,
          fileParallelism: false,
          sequence: { groupOrder: 1 },
        },
      },
    ],
  },
})
