import type { LinkCounters } from '../../src/contract/live.ts'
import { QUANTITIES, type Quantity } from '../../src/records/quantity.ts'
import type { RunEnding, TestKind } from '../../src/records/test-kind.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { changed, unknownId } from './names.ts'
import type { NounContext } from './noun-context.ts'
import type { DiaryTable } from './run-diary.ts'
import type {
  Annotation,
  NewRun,
  RunChanges,
  RunFilter,
  RunOrigin,
  RunRecord,
  SampleRange,
} from './run-record.ts'
import type { SampleIntake } from './sample-intake.ts'

interface RunRow {
  id: number
  motor_id: number
  motor_name: string
  kind: TestKind
  origin: RunOrigin
  bench_id: number | null
  rig: string | null
  channels: string
  rate_hz: number | null
  conditions: string
  plan: string | null
  source: string | null
  started_at: string
  ended_at: string | null
  ending: RunEnding
  ending_text: string
  title: string
  excluded: string
  quantities: string
  counters: string | null
  sample_count: number
  first_sec: number | null
  last_sec: number | null
  deleted_at: string | null
}

/** The rows of runs: everything but samples and diary. */
export interface RunRows {
  insert(run: NewRun, calibrationIds: readonly number[]): number
  progress(id: number, intake: SampleIntake): void
  end(
    id: number,
    ending: RunEnding,
    text: string,
    endedAt: string,
    counters: LinkCounters | null,
  ): void
  remove(id: number): void
  get(id: number): RunRecord
  list(filter: RunFilter): RunRecord[]
  change(id: number, changes: RunChanges): void
  exclude(id: number, ranges: readonly SampleRange[]): void
  annotate(id: number, annotation: Omit<Annotation, 'writtenAt'>): void
  markDeleted(id: number, at: string | null): void
}

const json = (value: unknown): string | null => (value === null ? null : JSON.stringify(value))

const parsed = (text: string | null) => (text === null ? null : JSON.parse(text))

const FROM_RUNS = `SELECT runs.*, motors.name AS motor_name
  FROM runs JOIN motors ON motors.id = runs.motor_id`

export function runRows({ db, date }: NounContext, diary: DiaryTable): RunRows {
  const insert = db.prepare(
    `INSERT INTO runs (motor_id, kind, origin, bench_id, rig, channels, rate_hz, conditions, plan,
       source, started_at, ending, ending_text, title, excluded, quantities, sample_count)
     VALUES (@motorId, @kind, @origin, @benchId, @rig, @channels, @rateHz, @conditions, @plan,
       @source, @startedAt, 'open', '', '', '[]', @quantities, 0)`,
  )
  const calibrate = db.prepare(
    'INSERT INTO run_calibrations (run_id, calibration_id) VALUES (?, ?)',
  )
  const progress = db.prepare(
    `UPDATE runs SET sample_count = @samples, first_sec = @firstSec, last_sec = @lastSec,
       quantities = coalesce(@quantities, quantities) WHERE id = @id`,
  )
  const end = db.prepare(
    `UPDATE runs SET ending = @ending, ending_text = @text, ended_at = @endedAt,
       counters = @counters WHERE id = @id`,
  )
  const remove = db.prepare('DELETE FROM runs WHERE id = ?')
  const byId = db.prepare<[number], RunRow>(`${FROM_RUNS} WHERE runs.id = ?`)
  const select = db.prepare<[Record<string, string | number | null>], RunRow>(
    `${FROM_RUNS}
     WHERE (runs.deleted_at IS NOT NULL) = @deleted AND motors.deleted_at IS NULL
       AND NOT (runs.origin = 'import' AND runs.ending = 'open')
       AND (@motorId IS NULL OR runs.motor_id = @motorId)
       AND (@kind IS NULL OR runs.kind = @kind)
       AND (@ending IS NULL OR runs.ending = @ending)
       AND instr(fold(concat_ws(char(10), runs.title, runs.kind, runs.source, motors.name, motors.lot,
             motors.serial_number,
             (SELECT group_concat(text, char(10)) FROM annotations WHERE run_id = runs.id))),
           fold(@text)) > 0
     ORDER BY runs.id DESC LIMIT @limit`,
  )
  const annotations = db.prepare<[number], Annotation>(
    `SELECT text, author, written_at AS writtenAt, time_sec AS timeSec FROM annotations
     WHERE run_id = ? ORDER BY id`,
  )
  const calibrationIds = db
    .prepare<[number], number>(
      'SELECT calibration_id FROM run_calibrations WHERE run_id = ? ORDER BY calibration_id',
    )
    .pluck()
  const update = db.prepare(
    `UPDATE runs SET title = @title, kind = @kind, motor_id = @motorId, conditions = @conditions
     WHERE id = @id`,
  )
  const setExcluded = db.prepare('UPDATE runs SET excluded = ? WHERE id = ?')
  const annotate = db.prepare(
    'INSERT INTO annotations (run_id, text, author, written_at, time_sec) VALUES (?, ?, ?, ?, ?)',
  )
  const setDeleted = db.prepare('UPDATE runs SET deleted_at = ? WHERE id = ?')

  const fromRow = (row: RunRow): RunRecord => ({
    id: row.id,
    motorId: row.motor_id,
    motorName: row.motor_name,
    kind: row.kind,
    origin: row.origin,
    benchId: row.bench_id,
    rig: parsed(row.rig),
    channels: JSON.parse(row.channels),
    rateHz: row.rate_hz,
    conditions: { ...UNKNOWN_CONDITIONS, ...JSON.parse(row.conditions) },
    plan: parsed(row.plan),
    source: row.source,
    startedAt: row.started_at,
    endedAt: row.ended_at,
    ending: row.ending,
    endingText: row.ending_text,
    title: row.title,
    annotations: annotations.all(row.id),
    excluded: JSON.parse(row.excluded),
    sampleCount: row.sample_count,
    durationSec:
      row.first_sec === null || row.last_sec === null ? null : row.last_sec - row.first_sec,
    quantities: JSON.parse(row.quantities),
    ...diary.tallies(row.id),
    counters: parsed(row.counters),
    calibrationIds: calibrationIds.all(row.id),
    deletedAt: row.deleted_at,
  })
  const get = (id: number): RunRecord => {
    const found = byId.get(id)
    if (!found) throw unknownId('run', id)
    return fromRow(found)
  }

  return {
    get,
    insert: (run, calibrations) => {
      const { lastInsertRowid } = insert.run({
        ...run,
        rig: json(run.rig),
        channels: json(run.channels),
        conditions: json(run.conditions),
        plan: json(run.plan),
        startedAt: date(),
        quantities: json(quantitiesOf(run.channels.map(channel => channel.quantity))),
      })
      for (const calibration of calibrations) calibrate.run(lastInsertRowid, calibration)
      return Number(lastInsertRowid)
    },
    progress: (id, { samples, firstSec, lastSec, formats }) => {
      const real = formats.flatMap(({ name, form }) => (form === 'real' ? [name] : []))
      const quantities = real.length > 0 ? json(quantitiesOf(real)) : null
      progress.run({ id, samples, firstSec, lastSec, quantities })
    },
    end: (id, ending, text, endedAt, counters) => {
      end.run({ id, ending, text, endedAt, counters: json(counters) })
    },
    remove: id => {
      remove.run(id)
    },
    list: filter =>
      select
        .all({
          deleted: filter.deleted ? 1 : 0,
          motorId: filter.motorId ?? null,
          kind: filter.kind ?? null,
          ending: filter.ending ?? null,
          text: filter.text ?? '',
          limit: filter.limit ?? -1,
        })
        .map(fromRow),
    change: (id, changes) => {
      const next = changed<RunChanges>(get(id), changes)
      update.run({ ...next, id, conditions: json(next.conditions) })
    },
    exclude: (id, ranges) => {
      setExcluded.run(JSON.stringify(ranges), id)
    },
    annotate: (id, { text, author, timeSec }) => {
      annotate.run(id, text, author, date(), timeSec)
    },
    markDeleted: (id, at) => {
      setDeleted.run(at, id)
    },
  }
}

/** The quantities among the names, each once, in the order in which they are shown. */
function quantitiesOf(names: readonly string[]): Quantity[] {
  return QUANTITIES.filter(quantity => names.includes(quantity))
}
