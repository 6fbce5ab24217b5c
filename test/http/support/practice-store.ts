import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { PracticeRunChoices } from '../../../src/practice-rig/practice-run.ts'
import { practiceSuite } from '../../../src/practice-rig/practice-run.ts'
import type { TestRun } from '../../../src/records/test-run.ts'
import { openStore } from '../../../server/store/open-store.ts'
import type { Store, StoredFit } from '../../../server/store/store.ts'
import type { FitSettings } from '../../../src/identify/fit-settings.ts'
import { textbookFit } from '../../../src/identify/textbook-fit.ts'
import { practiceMotor } from '../../support/practice.ts'

export interface StoreFolder {
  readonly folder: string
  readonly file: string
  remove(): void
}

export function storeFolder(): StoreFolder {
  const folder = mkdtempSync(join(tmpdir(), 'rotorfit-test-'))
  return {
    folder,
    file: join(folder, 'bench.rotorfit'),
    remove: () => rmSync(folder, { recursive: true, force: true }),
  }
}

/** A fixed afternoon, a second further at every look: dates in the store do not depend on the day. */
export function testClock(): () => number {
  let nowMs = Date.UTC(2026, 4, 12, 13, 30)
  return () => {
    nowMs += 1000
    return nowMs
  }
}

export const testStore = (file: string): Store => openStore(file, { now: testClock() })

/** Logs a practice motor's whole suite into a store, as finished runs. Returns their numbers. */
export async function logPracticeSuite(
  store: Store,
  motorFile: string,
  name: string,
  choices: Partial<PracticeRunChoices> = {},
): Promise<number[]> {
  const motorId = store.motors.ensure(name).id
  const ids: number[] = []
  for (const run of practiceSuite(practiceMotor(motorFile), 7, { rateHz: 4000, ...choices })) {
    ids.push(await storeRun(store, motorId, run))
  }
  return ids
}

/** What the runs of a motor say, by the textbook, stored as a fit. */
export function identifyInStore(
  store: Store,
  motor: string,
  settings: Partial<FitSettings> = {},
): StoredFit {
  const motorId = store.motors.named(motor).id
  const runIds = store.runs
    .list({ motorId })
    .map(run => run.id)
    .sort((a, b) => a - b)
  const all = { fixed: {}, freed: [], referenceTemperatureCelsius: 20, ...settings }
  const fit = textbookFit(
    motor,
    runIds.map(id => store.runs.testRun(id)),
    all,
  )
  if (!fit.ok) throw new Error(fit.error.text)
  return store.fits.add({
    motorId,
    runIds,
    document: fit.value,
    settings: all,
    inputsHash: store.runs.inputsHash(runIds),
  })
}

export async function storeRun(store: Store, motorId: number, run: TestRun): Promise<number> {
  const { timeSec, columns, bridge, edges } = run.recording
  const writer = store.runs.begin({
    motorId,
    kind: run.kind,
    origin: 'import',
    conditions: run.conditions,
    benchId: null,
    rig: null,
    channels: [],
    rateHz: null,
    plan: null,
    source: `${run.kind}.csv`,
  })
  writer.columns({ timeSec, columns, bridge })
  for (const edge of edges) writer.edge(edge)
  writer.finish('imported', '', null)
  return writer.runId
}
