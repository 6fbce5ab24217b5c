import type { FitSummary, MotorSummary, MotorView } from '../../../src/contract/http-motors.ts'
import type { ParameterName } from '../../../src/records/parameter.ts'
import type { Motor } from '../../../src/records/motor.ts'
import { isMeant } from '../../jobs/meant-run.ts'
import type { Store, StoredFit } from '../../store/store.ts'
import { fitOfMotor } from './fit-of-motor.ts'
import type { Answers } from './library.ts'
import { runFacts, runSummary } from './run-summary.ts'

/** By these a motor is known at a glance. */
const HEADLINES: readonly ParameterName[] = [
  'resistance',
  'inductance',
  'backEmfConstant',
  'inertia',
]

export const motorAnswers: Pick<
  Answers,
  | 'motorList'
  | 'motorPage'
  | 'motorName'
  | 'addMotor'
  | 'changeMotor'
  | 'deleteMotor'
  | 'restoreMotor'
  | 'identificationPage'
  | 'fitSummaries'
> = {
  motorList({ store }, { find }) {
    const filter = find.trim() === '' ? {} : { text: find.trim() }
    return {
      motors: store.motors.list(filter).map(motor => motorSummary(store, motor)),
      deleted: store.motors.list({ ...filter, deleted: true }).map(motor => view(store, motor)),
    }
  },
  motorPage({ store }, { motor: id }) {
    const motor = store.motors.get(id)
    const unfinished = store.sequences.unfinished(id)
    return {
      motor: view(store, motor),
      runs: store.runs.list({ motorId: id }).map(run => runSummary(store, run)),
      deletedRuns: store.runs
        .list({ motorId: id, deleted: true })
        .map(run => ({ ...runFacts(run), thumbnails: [] })),
      fits: fitSummaries(store, id),
      unfinishedSequence: unfinished && { id: unfinished.id, savedAt: unfinished.savedAt },
    }
  },
  motorName: ({ store }, { motor }) => store.motors.get(motor).name,
  addMotor: ({ store }, motor) => view(store, store.motors.add(defined(motor))),
  changeMotor: ({ store }, { motor, changes }) =>
    view(store, store.motors.change(motor, defined(changes))),
  deleteMotor({ store }, { motor }) {
    store.motors.delete(motor)
    return null
  },
  restoreMotor: ({ store }, { motor }) => view(store, store.motors.restore(motor)),
  fitSummaries: ({ store }, { motor }) => fitSummaries(store, motor),
  identificationPage({ store }, { motor: id, fit: wanted, other }) {
    const motor = store.motors.get(id)
    const fit = fitOfMotor(store, id, wanted)
    const compared = other === undefined ? null : fitOfMotor(store, id, other)
    return {
      motor: view(store, motor),
      fits: fitSummaries(store, id),
      fit: fit && fitView(fit),
      other: compared && fitView(compared),
      runs: store.runs
        .list({ motorId: id })
        .map(run => ({ ...runFacts(run), meant: isMeant(run) }))
        .sort((a, b) => a.id - b.id),
      outdated: fit !== null && isOutdated(store, fit),
    }
  },
}

export function view(store: Store, motor: Motor): MotorView {
  return {
    id: motor.id,
    name: motor.name,
    type: motor.typeId === null ? null : store.types.get(motor.typeId).name,
    serialNumber: motor.serialNumber,
    lot: motor.lot,
    nameplate: motor.nameplate,
    notes: motor.notes,
    createdAt: motor.createdAt,
    deletedAt: motor.deletedAt,
  }
}

function motorSummary(store: Store, motor: Motor): MotorSummary {
  const runs = store.runs.list({ motorId: motor.id })
  const fit = store.fits.latest(motor.id)
  const newest = runs.reduce<string | null>(
    (latest, run) => (latest === null || run.startedAt > latest ? run.startedAt : latest),
    null,
  )
  return {
    ...view(store, motor),
    runCount: runs.length,
    lastRunAt: newest,
    fit: fit && { id: fit.id, createdAt: fit.createdAt, headlines: headlines(fit) },
  }
}

function headlines(fit: StoredFit): NonNullable<MotorSummary['fit']>['headlines'] {
  return HEADLINES.map(parameter => {
    const { unit, value, standardUncertainty } = fit.document.parameters[parameter]
    return { parameter, unit, value, standardUncertainty }
  })
}

export function fitSummaries(store: Store, motorId: number): FitSummary[] {
  return store.fits.list(motorId).map(fit => ({
    id: fit.id,
    createdAt: fit.createdAt,
    runs: [...fit.runIds],
    reducedChiSquare: fit.document.goodness.reducedChiSquare,
    termination: fit.document.termination,
    warningCount: fit.document.warnings.length,
  }))
}

const fitView = ({ id, createdAt, document, settings }: StoredFit) => ({
  id,
  createdAt,
  document,
  // What older versions did not note was not asked for.
  settings: {
    fixed: {},
    freed: [],
    ...(settings as { fixed?: Record<string, number>; freed?: string[] }),
  },
})

/** A run of the fit was deleted, or its samples, calibrations or exclusions are no longer the same. */
export function isOutdated(store: Store, fit: StoredFit): boolean {
  try {
    return store.runs.inputsHash(fit.runIds) !== fit.inputsHash
  } catch {
    return true
  }
}

/** Without the keys that were left out: the store takes what is there as given. */
function defined<T extends object>(value: T): { [K in keyof T]: NonNullable<T[K]> } {
  return Object.fromEntries(Object.entries(value).filter(([, v]) => v !== undefined)) as never
}
