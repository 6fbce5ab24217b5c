import { InputFault } from '../../src/base/faults.ts'
import type { StoredFit } from '../store/store.ts'
import type { ReportJob } from './job.ts'
import { isMeant } from './meant-run.ts'
import type { FitSettings } from '../../src/identify/fit-settings.ts'
import { addRippleSpeed } from '../../src/ripple/add-ripple-speed.ts'
import type { RippleSettings } from '../../src/ripple/ripple-settings.ts'
import { identifyMotor } from '../../src/identify/identify-motor.ts'
import { openStore } from '../store/open-store.ts'

export interface FitInput {
  readonly storeFile: string
  readonly motor: string
  /** Null for all runs of the motor that hold something to learn from. */
  readonly runIds: readonly number[] | null
  readonly settings: FitSettings
  /** Runs without a speed get one from their ripple. */
  readonly ripple?: RippleSettings | null
  /** Id of the identification of a motor of the same kind, beside which the search begins. */
  readonly likeFitId?: number | null
}

export type FitOutput = StoredFit

/** Identifies a motor from its stored runs and stores the result beside them. */
export async function fitJob(input: FitInput, report: ReportJob): Promise<FitOutput> {
  const store = openStore(input.storeFile, { now: Date.now })
  try {
    const motor = store.motors.named(input.motor)
    const records = store.runs.list({ motorId: motor.id })
    const ids =
      (input.runIds && [...new Set(input.runIds)]) ??
      records
        .filter(isMeant)
        .map(run => run.id)
        .sort((a, b) => a - b)
    if (ids.length === 0) {
      throw new InputFault(
        records.length === 0
          ? `'${motor.name}' has no runs yet; log or import one`
          : `no run of '${motor.name}' came to its end; name the ones to use with --runs, out of ${records.map(r => r.id).join(', ')}`,
      )
    }
    const stray = ids.find(id => !records.some(run => run.id === id))
    if (stray !== undefined) {
      throw new InputFault(
        `run ${stray} is not a run of '${motor.name}', which has ${records.map(r => r.id).join(', ') || 'none'}`,
      )
    }
    const runs = ids.map((id, index) => {
      report({ fraction: (0.1 * index) / ids.length, text: `reading run ${id}` })
      return store.runs.testRun(id)
    })
    const spoken = input.ripple ? addRippleSpeed(runs, input.ripple) : { runs, notes: [] }
    const result = identifyMotor(
      motor.name,
      spoken.runs,
      input.settings,
      progress => {
        report({ fraction: 0.1 + 0.9 * progress.fraction, text: progress.text })
        return true
      },
      input.likeFitId == null ? null : store.fits.get(input.likeFitId).document,
    )
    if (!result.ok) {
      const words = [
        result.error.text,
        ...spoken.notes.map(note => `run ${note.run}: ${note.text}`),
      ]
      throw new InputFault(words.join('; '))
    }
    return store.fits.add({
      motorId: motor.id,
      runIds: ids,
      document: { ...result.value, warnings: [...result.value.warnings, ...spoken.notes] },
      settings: input.settings,
      inputsHash: store.runs.inputsHash(ids),
    })
  } finally {
    store.close()
  }
}
