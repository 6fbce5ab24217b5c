import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { build } from 'vite'

/** Builds the page as it is now, apart from what a user may have built. */
export async function buildPage(): Promise<{ folder: string; remove(): void }> {
  const folder = mkdtempSync(join(tmpdir(), 'rotorfit-page-'))
  await build({
    configFile: fileURLToPath(new URL('../../../web/vite.config.ts', import.meta.url)),
    logLevel: 'error',
    build: { outDir: folder, emptyOutDir: true },
  })
  return { folder, remove: () => rmSync(folder, { recursive: true, force: true }) }
}
