import { fork } from 'node:child_process'
import { readdirSync } from 'node:fs'
import { availableParallelism, cpus, loadavg } from 'node:os'
import { parseArgs } from 'node:util'
import { textTable } from '../../src/output/text-table.ts'
import { bundleSections } from './bundle-sections.ts'
import { meetsGoal, type SpeedRow } from './section.ts'

/**
 * The benchmark: `npm run speed [-- SECTION …] [--seed N]`. Every number stands beside a baseline that was
 * measured on the same computer in the same run: ratios hold better than absolutes.
 */
const ENDING = '.speed.ts'
const known = readdirSync(new URL('.', import.meta.url))
  .filter(name => name.endsWith(ENDING))
  .map(name => name.slice(0, -ENDING.length))

const { values, positionals } = parseArgs({
  options: { seed: { type: 'string', default: '1' } },
  allowPositionals: true,
})
const seed = Number(values.seed)
const stranger = positionals.find(name => !known.includes(name))
if (stranger !== undefined || !Number.isInteger(seed)) {
  const wrong = stranger === undefined ? `--seed ${values.seed}` : `section '${stranger}'`
  process.stderr.write(`${wrong}: needs a whole number, and sections from ${known.join(', ')}\n`)
  process.exit(2)
}

interface Measured {
  readonly section: string
  readonly rows: readonly SpeedRow[]
  readonly trouble: string | null
}

function measureApart(section: string): Promise<Measured> {
  const file = bundled.get(section)!
  const child = fork(new URL('./section-process.ts', import.meta.url), [file, String(seed)])
  return new Promise(resolve => {
    let rows: readonly SpeedRow[] = []
    child.on('message', message => {
      rows = message as readonly SpeedRow[]
    })
    child.on('exit', (code, signal) => {
      const trouble = code === 0 ? null : `ended with ${signal ?? `exit code ${code}`}`
      resolve({ section, rows, trouble })
    })
  })
}

const number = (value: number) =>
  value.toLocaleString('en', { maximumSignificantDigits: 4 }).replaceAll(',', ' ')

function goalText(row: SpeedRow): string {
  if (!row.goal) return ''
  const goal = 'least' in row.goal ? `≥ ${row.goal.least}` : `≤ ${row.goal.most}`
  return `${goal} ${meetsGoal(row) ? 'met' : 'NOT MET'}`
}

const chosen = positionals.length > 0 ? positionals : known
const bundled = await bundleSections(chosen)
const load = () =>
  loadavg()
    .map(value => value.toFixed(1))
    .join(' ')
const loadBefore = load()
const measured: Measured[] = []
for (const section of chosen) {
  process.stderr.write(`${section} …\n`)
  measured.push(await measureApart(section))
}
process.stdout.write(
  [
    `${new Date().toISOString().slice(0, 10)}, seed ${seed}, Node ${process.version}, ${process.platform} ${process.arch}`,
    `${cpus()[0]?.model ?? 'unknown processor'}, ${availableParallelism()} cores; load average ${loadBefore} before, ${load()} after`,
    '',
    textTable(
      [
        { title: 'section', align: 'left' },
        { title: 'what', align: 'left' },
        { title: 'value', align: 'right' },
        { title: 'unit', align: 'left' },
        { title: 'against', align: 'left' },
        { title: 'ratio', align: 'right' },
        { title: 'goal', align: 'left' },
      ],
      measured.flatMap(({ section, rows }) =>
        rows.map(row => [
          section,
          row.what,
          number(row.value),
          row.unit,
          row.against,
          number(row.ratio),
          goalText(row),
        ]),
      ),
    ),
  ].join('\n'),
)
for (const { section, trouble } of measured) {
  if (trouble !== null) {
    process.stderr.write(`${section}: ${trouble}\n`)
    process.exitCode = 1
  }
}
