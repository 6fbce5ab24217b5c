import { readdirSync, readFileSync } from 'node:fs'
import { dirname, join, posix, relative, sep } from 'node:path'
import { fileURLToPath } from 'node:url'
import { describe, expect, test } from 'vitest'

const root = join(dirname(fileURLToPath(import.meta.url)), '..')

/** Folders of `src` from the bottom to the top: a folder may import those below its level, and itself. */
const LEVELS: readonly (readonly string[])[] = [
  ['base'],
  ['records', 'numerics'],
  ['contract', 'statistics', 'motor', 'protocol'],
  ['signals', 'practice-rig'],
  ['analysis'],
  ['identify', 'ripple', 'thermal'],
  ['recognise', 'drive', 'quality', 'procedure'],
  ['output'],
]

/** The practice rig must not share a line of physics with the fit that is tested on it. */
const PRACTICE_RIG_MAY_USE = ['base', 'records', 'protocol', 'practice-rig']

/** Packages that the pure core may use: pure themselves, and fit for a browser. */
const PURE_PACKAGES =
  /^(zod|ml-matrix|ml-levenberg-marquardt|fourier-transform|d3-scale|d3-shape|@stdlib\/.+)$/

const sourceFiles = (folder: string): string[] =>
  readdirSync(join(root, folder), { recursive: true, withFileTypes: true })
    .filter(entry => entry.isFile() && /\.tsx?$/.test(entry.name))
    .map(entry => relative(root, join(entry.parentPath, entry.name)).split(sep).join('/'))

const STATIC_IMPORT = /^(?:import|export)\s(?:[\w\s{},*$]+?\sfrom\s)?['"]([^'"\n]+)['"]/gm
const DYNAMIC_IMPORT = /\bimport\(['"]([^'"\n]+)['"]\)/g

const importsOf = (text: string): string[] =>
  [...text.matchAll(STATIC_IMPORT), ...text.matchAll(DYNAMIC_IMPORT)].map(match => match[1]!)

const files = ['src', 'server', 'web'].flatMap(sourceFiles).map(file => {
  const text = readFileSync(join(root, file), 'utf8')
  return {
    file,
    text,
    imports: importsOf(text).map(specifier =>
      specifier.startsWith('.') ? posix.join(posix.dirname(file), specifier) : specifier,
    ),
  }
})

const core = files.filter(({ file }) => file.startsWith('src/'))
const folderOf = (file: string) => file.split('/')[1]!
const levelOf = (folder: string) => LEVELS.findIndex(level => level.includes(folder))

describe('arrows between the parts', () => {
  test('the reader of imports sees them', () => {
    expect(core.length).toBeGreaterThan(20)
    expect(
      importsOf(
        "import { a } from './a.ts'\nexport type {\n  b,\n} from './b.ts'\nconst c = await import('c')",
      ),
    ).toEqual(['./a.ts', './b.ts', 'c'])
  })

  test.each([
    ['src', /^src\//],
    ['server', /^(src|server)\/|^package\.json$/],
    ['web', /^(src|web)\//],
  ])('%s imports only what it may', (part, allowed) => {
    const wrong = files
      .filter(({ file }) => file.startsWith(`${part}/`))
      .flatMap(({ file, imports }) =>
        imports
          .filter(i => /^(src|server|web|test|scripts)\/|\.json$/.test(i) && !allowed.test(i))
          .map(i => `${file} → ${i}`),
      )
    expect(wrong).toEqual([])
  })

  test('every folder of the core has its level', () => {
    const folders = new Set(core.map(({ file }) => folderOf(file)))
    expect([...folders].filter(folder => levelOf(folder) < 0)).toEqual([])
  })

  test('inside the core nothing points upward or sideways', () => {
    const wrong = core.flatMap(({ file, imports }) =>
      imports
        .filter(i => i.startsWith('src/') && folderOf(i) !== folderOf(file))
        .filter(i => levelOf(folderOf(i)) >= levelOf(folderOf(file)))
        .map(i => `${file} → ${i}`),
    )
    expect(wrong).toEqual([])
  })

  test('the practice rig uses base, records and protocol only', () => {
    const wrong = core
      .filter(({ file }) => folderOf(file) === 'practice-rig')
      .flatMap(({ file, imports }) =>
        imports
          .filter(i => i.startsWith('src/') && !PRACTICE_RIG_MAY_USE.includes(folderOf(i)))
          .map(i => `${file} → ${i}`),
      )
    expect(wrong).toEqual([])
  })

  test('no cycles between files', () => {
    const byFile = new Map(files.map(f => [f.file, f.imports]))
    const done = new Set<string>()
    const cycles: string[] = []
    const visit = (file: string, path: readonly string[]) => {
      if (path.includes(file)) cycles.push([...path.slice(path.indexOf(file)), file].join(' → '))
      if (done.has(file) || path.includes(file)) return
      for (const next of byFile.get(file) ?? []) if (byFile.has(next)) visit(next, [...path, file])
      done.add(file)
    }
    for (const { file } of core) visit(file, [])
    expect(cycles).toEqual([])
  })
})

describe('the core is pure', () => {
  test('no clock, no chance, no input or output', () => {
    const impure =
      /\bDate\.now\b|\bnew Date\(\)|\bMath\.random\b|\bperformance\.|\bconsole\.|\bprocess\.|\bfetch\(/
    const withoutComments = (text: string) => text.replace(/\/\*[\s\S]*?\*\/|\/\/.*$/gm, '')
    expect(
      core.filter(({ text }) => impure.test(withoutComments(text))).map(({ file }) => file),
    ).toEqual([])
  })

  test('only pure packages', () => {
    const foreign = core.flatMap(({ file, imports }) =>
      imports
        .filter(i => !i.startsWith('src/') && !PURE_PACKAGES.test(i))
        .map(i => `${file} → ${i}`),
    )
    expect(foreign).toEqual([])
  })
})

test('the program ends in one place only', () => {
  const exits = files.filter(({ text }) => /\bprocess\.exit\(/.test(text)).map(({ file }) => file)
  expect(exits.filter(file => !file.startsWith('server/commands/'))).toEqual([])
})
