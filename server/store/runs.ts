import { InputFault } from '../../src/base/faults.ts'
import type { Recording } from '../../src/records/recording.ts'
import { hashRun, newHash } from './inputs-hash.ts'
import type { NounContext } from './noun-context.ts'
import { CHUNK_SAMPLES } from './open-chunk.ts'
import { sequenceGaps } from './run-gaps.ts'
import { readOverview } from './run-overview.ts'
import type { NewRun, RunRecord } from './run-record.ts'
import { columnsOf, type RunColumn, readRecording } from './run-samples.ts'
import { samplesBetween } from './run-times.ts'
import { type PatientRunWriter, type RunTables, runWriter } from './run-writer.ts'
import type { CalibrationStore, MotorStore, RunStore } from './store.ts'

/** While an import waits for its source, it says at least this often that it lives. */
const BEAT_MS = 1000

export function runStore(
  context: NounContext,
  tables: RunTables,
  calibrations: CalibrationStore,
  motors: MotorStore,
): RunStore {
  const { db, date, nowMs } = context
  const { rows, chunks, diary, open } = tables

  const begin = db.transaction((run: NewRun): PatientRunWriter => {
    motors.get(run.motorId)
    const inForce =
      run.benchId === null
        ? []
        : calibrations
            .inForce(run.benchId, date())
            .filter(({ channel }) => run.channels.some(({ name }) => name === channel))
    const id = rows.insert(
      run,
      inForce.map(calibration => calibration.id),
    )
    open.enter(id, nowMs())
    for (const { channel, validUntil } of inForce) {
      if (validUntil === null || validUntil >= date()) continue
      const text = `the calibration of channel ${channel} expired on ${validUntil.slice(0, 10)}`
      diary.note(id, { timeSec: null, code: 'calibration-expired', text })
    }
    return runWriter(context, tables, id, run.channels.length)
  }).immediate

  const columns = (run: RunRecord): RunColumn[] =>
    columnsOf(
      run,
      run.calibrationIds.map(id => calibrations.get(id)),
    )

  const recording = (run: RunRecord, from: number, to: number): Recording =>
    readRecording(
      chunks,
      run,
      columns(run),
      diary.read(run.id).edges,
      Math.max(0, from),
      Math.min(to, run.sampleCount),
    )

  function* pieces(run: RunRecord, samplesAPiece: number): Generator<Recording> {
    for (let from = 0; from < run.sampleCount; from += samplesAPiece) {
      yield recording(run, from, from + samplesAPiece)
    }
  }

  const heads = (run: RunRecord) => chunks.heads(run.id, 0, run.sampleCount)

  return {
    begin,
    importColumns: async (run, source) => {
      const writer = begin(run)
      let beatMs = nowMs()
      try {
        for await (const piece of source) {
          writer.columns(piece)
          if (!writer.hasFull && nowMs() - beatMs < BEAT_MS) continue
          writer.commitFull()
          beatMs = nowMs()
        }
        if (writer.samplesTaken === 0) throw new InputFault('the recording has no rows')
        writer.finish('imported', '', null)
      } catch (error) {
        abandonQuietly(writer)
        throw error
      }
      return writer.runId
    },
    get: rows.get,
    list: (filter = {}) => rows.list(filter),
    recording: (id, range) => {
      const run = rows.get(id)
      return recording(run, range?.from ?? 0, range?.to ?? run.sampleCount)
    },
    pieces: (id, samplesAPiece = CHUNK_SAMPLES) => pieces(rows.get(id), samplesAPiece),
    testRun: id => {
      const run = rows.get(id)
      const whole = recording(run, 0, run.sampleCount)
      for (const values of Object.values(whole.columns)) {
        for (const range of run.excluded) values.fill(Number.NaN, range.from, range.to)
      }
      return { id, kind: run.kind, recording: whole, conditions: run.conditions }
    },
    overview: (id, quantity, fromSec, toSec, points) => {
      const run = rows.get(id)
      const column = columns(run).find(each => each.quantity === quantity)
      if (!column) {
        throw new InputFault(`run ${id} has no ${quantity}; it has ${run.quantities.join(', ')}`)
      }
      if (!(toSec > fromSec)) {
        throw new InputFault(`from ${fromSec} s to ${toSec} s is no span; the end comes after`)
      }
      if (!Number.isInteger(points) || points < 1 || points > MOST_POINTS) {
        throw new InputFault(`points ${points}; must be a whole number from 1 to ${MOST_POINTS}`)
      }
      return readOverview(chunks, run, column, { from: fromSec, to: toSec }, points)
    },
    diary: id => diary.read(rows.get(id).id),
    gaps: id => sequenceGaps(heads(rows.get(id))),
    rejectedLines: (id, limit = -1) => diary.rejected(rows.get(id).id, limit),
    change: (id, changes) => {
      if (changes.motorId !== undefined) motors.get(changes.motorId)
      rows.change(id, changes)
      return rows.get(id)
    },
    annotate: (id, annotation) => {
      const run = rows.get(id)
      if (annotation.text.trim() === '') throw new InputFault('a note needs some text')
      rows.annotate(run.id, annotation)
      return rows.get(id)
    },
    exclude: (id, ranges) => {
      const { sampleCount } = rows.get(id)
      for (const { from, to } of ranges) {
        if (!Number.isInteger(from) || !Number.isInteger(to) || from < 0 || to <= from) {
          throw new InputFault(
            `samples ${from} to ${to}: give whole numbers, the end after the start`,
          )
        }
        if (to > sampleCount) {
          throw new InputFault(`samples ${from} to ${to}: run ${id} ends at ${sampleCount}`)
        }
      }
      rows.exclude(id, ranges)
      return rows.get(id)
    },
    samplesWithin: (id, fromSec, toSec) =>
      samplesBetween(chunks, id, heads(rows.get(id)), fromSec, toSec),
    delete: id => {
      const run = rows.get(id)
      if (run.ending === 'open') {
        throw new InputFault(`run ${id} is being logged; stop it before deleting it`)
      }
      if (run.deletedAt === null) rows.markDeleted(id, date())
    },
    restore: id => {
      rows.get(id)
      rows.markDeleted(id, null)
      return rows.get(id)
    },
    purge: id => {
      if (rows.get(id).deletedAt === null) {
        throw new InputFault(`run ${id} is not deleted; only a deleted run can be purged`)
      }
      rows.remove(id)
      db.pragma('incremental_vacuum')
    },
    inputsHash: ids => {
      const hash = newHash()
      for (const id of ids) {
        const run = rows.get(id)
        hashRun(hash, run, pieces(run, CHUNK_SAMPLES))
      }
      return hash.digest('hex')
    },
  }
}

/** Where even this fails, the next opening takes the import out: its writer will be gone. */
function abandonQuietly(writer: PatientRunWriter): void {
  try {
    writer.abandon()
  } catch {
    // What made the import fail is what the user has to hear of.
  }
}

/** More points than any screen shows, few enough for one answer. */
const MOST_POINTS = 100_000
