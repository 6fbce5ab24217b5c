import { posix } from 'node:path'
import { build as bundle } from 'esbuild'
import { build as buildPage } from 'vite'
import { WORKER_SOURCES } from '../server/workers/spawn.ts'

const workers = Object.entries(WORKER_SOURCES).map(([name, source]) => [
  name,
  posix.join('server/workers', source),
])

/**
 * Bundles the command line and its workers to dist/ (packages stay external: the native ones cannot
 * be bundled) and the page to dist/web.
 */
await bundle({
  entryPoints: { rotorfit: 'server/main.ts', ...Object.fromEntries(workers) },
  bundle: true,
  platform: 'node',
  target: 'node20.19',
  format: 'esm',
  packages: 'external',
  outdir: 'dist',
  outExtension: { '.js': '.mjs' },
  sourcemap: true,
  logLevel: 'warning',
})
await buildPage({ configFile: 'web/vite.config.ts', logLevel: 'warn' })
