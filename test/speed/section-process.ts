import type { Measure } from './section.ts'

/** One section in a process of its own, so that none finds the memory and compiled code of another. */
const [file = '', seed = '1'] = process.argv.slice(2)
const { measure } = (await import(file)) as { measure: Measure }
const rows = await measure(Number(seed))
process.send!(rows, () => process.exit(0))
