import { defineConfig } from 'vitest/config'

export default defineConfig({
  test: {
    include: ['test/**/*.test.ts'],
    testTimeout: 30_000,
    hookTimeout: 60_000,
    // Serial and browser tests measure deadlines by the rig's clock; two files at a time keep them honest on two cores.
    maxWorkers: 2,
  },
})
