import type { FitDocument } from '../../src/contract/fit-document.ts'
import type { Batch } from '../../src/records/batch.ts'
import type { Bench } from '../../src/records/bench.ts'
import type { Calibration } from '../../src/records/calibration.ts'
import type { LimitSet } from '../../src/records/limits.ts'
import type { Motor, MotorType } from '../../src/records/motor.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import type { Recording } from '../../src/records/recording.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import type { CheckMeasurementStore } from './check-measurements.ts'
import type { GaugeTrialStore } from './gauge-trials.ts'
import type { HandEntryStore } from './hand-entries.ts'
import type { ShortTestStore } from './short-tests.ts'
import type {
  Annotation,
  ColumnPiece,
  NewRun,
  Overview,
  RejectedLine,
  RunChanges,
  RunDiary,
  RunFilter,
  RunRecord,
  RunWriter,
  SampleRange,
  SequenceGap,
} from './run-record.ts'

/**
 * Everything that is kept, in one SQLite file. `openStore(file, options)` in open-store.ts.
 * All calls are synchronous but imports and backup. A record that is not there is an `InputFault`
 * that names what is; a name that does not suit or is taken likewise; a disk that refuses is a
 * `WorkFault`. SQL stays inside this folder.
 */
export interface Store {
  readonly file: string
  readonly readOnly: boolean
  readonly types: TypeStore
  readonly motors: MotorStore
  readonly benches: BenchStore
  readonly calibrations: CalibrationStore
  readonly runs: RunStore
  readonly fits: FitStore
  readonly limits: LimitStore
  readonly batches: BatchStore
  readonly handEntries: HandEntryStore
  readonly gaugeTrials: GaugeTrialStore
  readonly shortTests: ShortTestStore
  readonly checkMeasurements: CheckMeasurementStore
  readonly sequences: SequenceStore
  /** Runs that this opening found left behind by a logger that died; now `interrupted`. */
  readonly interrupted: readonly number[]
  /** A copy of the whole store while it is in use. Refuses an existing file unless `force`. */
  backup(file: string, options?: { force?: boolean }): Promise<void>
  close(): void
}

/** Fields that a user may give; what is left out is empty. */
export type NewMotorType = Pick<MotorType, 'name'> & Partial<Pick<MotorType, 'maker' | 'notes'>>

export interface TypeStore {
  add(type: NewMotorType): MotorType
  get(id: number): MotorType
  named(name: string): MotorType
  find(name: string): MotorType | null
  list(): MotorType[]
  change(id: number, changes: Partial<NewMotorType>): MotorType
  /** Refused while motors or limits refer to it. */
  remove(id: number): void
}

export type NewMotor = Pick<Motor, 'name'> &
  Partial<Pick<Motor, 'typeId' | 'serialNumber' | 'lot' | 'nameplate' | 'notes'>>

export interface MotorStore {
  add(motor: NewMotor): Motor
  get(id: number): Motor
  named(name: string): Motor
  find(name: string): Motor | null
  /** The motor of that name, added where there is none. */
  ensure(name: string): Motor
  list(filter?: { text?: string; typeId?: number; lot?: string; deleted?: boolean }): Motor[]
  change(id: number, changes: Partial<NewMotor>): Motor
  /** Takes the motor and its runs out of the lists. */
  delete(id: number): void
  /** Undo. Refused where the name has been given again. */
  restore(id: number): Motor
  /** For good: a motor that was made for a run which then failed, and has no other. */
  discard(id: number): void
}

export type NewBench = Omit<Bench, 'id' | 'createdAt'>

export interface BenchStore {
  add(bench: NewBench): Bench
  get(id: number): Bench
  named(name: string): Bench
  find(name: string): Bench | null
  /** The bench that a rig of this serial number belongs to. */
  ofRig(serialNumber: string): Bench | null
  list(): Bench[]
  change(id: number, changes: Partial<NewBench>): Bench
}

export type NewCalibration = Omit<Calibration, 'id'>

export interface CalibrationStore {
  add(calibration: NewCalibration): Calibration
  get(id: number): Calibration
  /** The latest of each channel of a bench at a moment. */
  inForce(benchId: number, at: string): Calibration[]
  history(benchId: number, channel?: string): Calibration[]
}

export interface RunStore {
  begin(run: NewRun): RunWriter
  /**
   * Stores a recording made elsewhere, piece by piece in bounded memory. Where a piece throws, nothing
   * of the run stays. Resolves to the run's number.
   */
  importColumns(
    run: NewRun,
    pieces: Iterable<ColumnPiece> | AsyncIterable<ColumnPiece>,
  ): Promise<number>
  get(id: number): RunRecord
  list(filter?: RunFilter): RunRecord[]
  /** Calibrated, in SI. `from` and `to` are samples. */
  recording(id: number, range?: { from: number; to: number }): Recording
  /** The same recording in bounded pieces, for exports. */
  pieces(id: number, samplesAPiece?: number): Generator<Recording>
  /** As the analysis sees it: samples excluded by hand are gaps. */
  testRun(id: number): TestRun
  overview(id: number, quantity: Quantity, fromSec: number, toSec: number, points: number): Overview
  diary(id: number): RunDiary
  gaps(id: number): SequenceGap[]
  rejectedLines(id: number, limit?: number): RejectedLine[]
  change(id: number, changes: RunChanges): RunRecord
  annotate(id: number, annotation: Omit<Annotation, 'writtenAt'>): RunRecord
  exclude(id: number, ranges: readonly SampleRange[]): RunRecord
  /** Samples within a span of time, as a range for `exclude`. */
  samplesWithin(id: number, fromSec: number, toSec: number): { from: number; to: number }
  delete(id: number): void
  restore(id: number): RunRecord
  /** For good: gives the space back. Only a deleted run. */
  purge(id: number): void
  /** SHA-256 over samples, calibrations, conditions and exclusions: a fit remembers what it saw. */
  inputsHash(ids: readonly number[]): string
}

export interface StoredFit {
  readonly id: number
  readonly motorId: number
  readonly runIds: readonly number[]
  readonly document: FitDocument
  /** Every setting, as the identification was called. */
  readonly settings: unknown
  readonly inputsHash: string
  readonly createdAt: string
}

export interface FitStore {
  add(fit: Omit<StoredFit, 'id' | 'createdAt'>): StoredFit
  get(id: number): StoredFit
  latest(motorId: number): StoredFit | null
  list(motorId: number): StoredFit[]
}

export interface LimitStore {
  /** From now on these hold; earlier sets stay in the history. */
  add(set: Omit<LimitSet, 'id' | 'setAt'>): LimitSet
  current(typeId: number): LimitSet | null
  history(typeId: number): LimitSet[]
}

export interface BatchStore {
  add(batch: { name: string; typeId?: number | null; notes?: string }): Batch
  get(id: number): Batch
  named(name: string): Batch
  find(name: string): Batch | null
  list(): Batch[]
  change(id: number, changes: { name?: string; typeId?: number | null; notes?: string }): Batch
  include(id: number, motorId: number): Batch
  exclude(id: number, motorId: number): Batch
}

/** Where a guided sequence stands, so that it can be resumed. The state is the procedure's own. */
export interface StoredSequence {
  readonly id: number
  readonly motorId: number
  readonly state: unknown
  readonly startedAt: string
  readonly savedAt: string
  readonly finishedAt: string | null
}

export interface SequenceStore {
  begin(motorId: number, state: unknown): StoredSequence
  save(id: number, state: unknown): void
  finish(id: number, state: unknown): void
  /** The latest of a motor that was not finished. */
  unfinished(motorId: number): StoredSequence | null
  /** The latest of a motor that was finished. */
  finished(motorId: number): StoredSequence | null
}

export interface StoreOptions {
  /** Milliseconds since 1970, as `Date.now`. */
  readonly now: () => number
  readonly readOnly?: boolean
  /**
   * How long a call may wait for another writer. Connections on the thread that keeps a rig alive pass
   * a few milliseconds; the default suits commands and workers.
   */
  readonly busyMs?: number
  /**
   * Moving commits from the log to the store's own pages waits for the medium. `elsewhere`: this
   * connection never does that, another thread must (`keepCheckpointed`).
   */
  readonly checkpoints?: 'here' | 'elsewhere'
}
