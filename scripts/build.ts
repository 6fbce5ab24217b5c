import { build as bundle } from 'esbuild'
import { build as buildPage } from 'vite'

/**
 * Bundles the command line and its workers to dist/ (packages stay external: the native ones cannot
 * be bundled) and the page to dist/web.
 */
await bundle({
  entryPoints: { rotorfit: 'server/main.ts' },
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
