import { readFile } from 'node:fs/promises'
import { fileURLToPath, pathToFileURL } from 'node:url'
import { build, type Plugin } from 'esbuild'
import { WORKER_SOURCES } from '../../server/workers/spawn.ts'

const PROJECT = new URL('../../', import.meta.url)
const FOLDER = new URL('node_modules/.cache/rotorfit-speed/', PROJECT)
const SPAWN = fileURLToPath(new URL('server/workers/spawn.ts', PROJECT))

/**
 * Sections and the program's workers, bundled as the program itself is when it is built: what is timed is what
 * people run. Code loaded file by file pays for every use of another file's exports.
 * @returns for each section the file to import
 */
export async function bundleSections(sections: readonly string[]): Promise<Map<string, string>> {
  const workers = Object.entries(WORKER_SOURCES).map(([name, source]) => [
    name,
    fileURLToPath(new URL(source, pathToFileURL(SPAWN))),
  ])
  const own = sections.map(section => [
    section,
    fileURLToPath(new URL(`./${section}.speed.ts`, import.meta.url)),
  ])
  await build({
    entryPoints: Object.fromEntries([...workers, ...own]),
    bundle: true,
    platform: 'node',
    target: 'node20.19',
    format: 'esm',
    packages: 'external',
    outdir: fileURLToPath(FOLDER),
    outExtension: { '.js': '.mjs' },
    logLevel: 'warning',
    plugins: [keepAddresses],
  })
  return new Map(sections.map(section => [section, new URL(`${section}.mjs`, FOLDER).href]))
}

/** Files find data beside them where their source lies; only workers are looked for beside the bundle. */
const keepAddresses: Plugin = {
  name: 'keep-addresses',
  setup(bundle) {
    bundle.onLoad({ filter: /\/(server|src|test)\/.*\.ts$/ }, async ({ path }) => {
      const text = await readFile(path, 'utf8')
      const address = JSON.stringify(pathToFileURL(path).href)
      const contents = path === SPAWN ? text : text.replaceAll('import.meta.url', address)
      return { contents, loader: 'ts' }
    })
  },
}
