import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { onTestFinished } from 'vitest'
import { openStore } from '../../server/store/open-store.ts'
import type { Store, StoreOptions } from '../../server/store/store.ts'

/** A folder that is gone after the test. */
export function scratchFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'rotorfit-test-'))
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }))
  return folder
}

export const scratchFile = (): string => join(scratchFolder(), 'store.rotorfit')

/** Noon of a fixed day, a second later at every call. */
export function steppingClock(): () => number {
  let ms = Date.UTC(2026, 2, 14, 12)
  return () => {
    ms += 1000
    return ms
  }
}

export function scratchStore(
  file = scratchFile(),
  options: StoreOptions = { now: steppingClock() },
): Store {
  const store = openStore(file, options)
  onTestFinished(() => store.close())
  return store
}
