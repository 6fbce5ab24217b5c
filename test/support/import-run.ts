import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { csvHeader, csvRows } from '../../server/files/csv-writer.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import type { commandBench } from './command-runner.ts'

/** Hands a run to the command line as a CSV file made elsewhere; returns its number in the store. */
export async function importRun(
  { folder, run }: Pick<ReturnType<typeof commandBench>, 'folder' | 'run'>,
  test: TestRun,
  motor: string,
): Promise<number> {
  const file = join(folder, `${test.kind}-${test.id}.csv`)
  writeFileSync(file, csvHeader(test.recording) + csvRows(test.recording))
  const celsius = test.conditions.windingCelsius
  const warmth = celsius === null ? [] : ['--temperature', String(celsius)]
  const outcome = await run(
    ...['import', file, '--motor', motor, '--test', test.kind, ...warmth, '--json'],
  )
  if (outcome.code !== 0) throw new Error(outcome.err)
  return JSON.parse(outcome.out).runId
}
