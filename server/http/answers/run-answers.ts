import { InputFault } from '../../../src/base/faults.ts'
import type { PhaseView, RunChangesBody, RunPage } from '../../../src/contract/http-runs.ts'
import { csvHeader, csvRows } from '../../files/csv-writer.ts'
import type { TestConditions } from '../../../src/records/test-run.ts'
import { findPhases } from '../../../src/signals/phases.ts'
import { readSignals } from '../../../src/signals/run-signals.ts'
import type { RunDiary, RunRecord } from '../../store/run-record.ts'
import type { Store } from '../../store/store.ts'
import type { Answers } from './library.ts'
import { fitOfMotor } from './fit-of-motor.ts'
import { fitSummaries } from './motor-answers.ts'
import { runFacts } from './run-summary.ts'
import { series } from './series.ts'

export const runAnswers: Pick<
  Answers,
  'runPage' | 'series' | 'recordingText' | 'changeRun' | 'deleteRun' | 'restoreRun'
> = {
  runPage(library, query) {
    const { store } = library
    const run = store.runs.get(query.run)
    const fits = fitSummaries(store, run.motorId)
    const asked = query.fit === undefined ? null : fitOfMotor(store, run.motorId, query.fit)
    const fit = asked?.id ?? newestWith(run.id, fits)
    const beside = store.runs
      .list({ motorId: run.motorId })
      .map(other => other.id)
      .sort((a, b) => a - b)
    const place = beside.indexOf(run.id)
    const diary = store.runs.diary(run.id)
    return {
      run: runDetails(store, run, diary),
      ...phasesOf(store, run, diary),
      fits,
      series: series(library, run, fit === undefined ? query : { ...query, fit }),
      previousRun: beside[place - 1] ?? null,
      nextRun: place < 0 ? null : (beside[place + 1] ?? null),
    }
  },
  series(library, query) {
    const run = library.store.runs.get(query.run)
    if (query.fit !== undefined) fitOfMotor(library.store, run.motorId, query.fit)
    return series(library, run, query)
  },
  recordingText({ store }, { run: id, from, to }) {
    const run = store.runs.get(id)
    const piece = store.runs.recording(id, { from, to: Math.min(to, run.sampleCount) })
    return {
      text: (from === 0 ? csvHeader(piece) : '') + csvRows(piece),
      fileName: `run-${id}-${run.kind}.csv`,
      isLast: to >= run.sampleCount,
    }
  },
  changeRun({ store }, { run: id, changes }) {
    applyChanges(store, id, changes)
    const run = store.runs.get(id)
    return runDetails(store, run, store.runs.diary(id))
  },
  deleteRun({ store }, { run }) {
    store.runs.delete(run)
    return null
  },
  restoreRun({ store }, { run }) {
    store.runs.restore(run)
    return null
  },
}

/** The newest fit that took this run, else the newest of its motor: a fit may be held against any run. */
function newestWith(runId: number, fits: RunPage['fits']): number | undefined {
  const newest = [...fits].sort((a, b) => b.id - a.id)
  return (newest.find(fit => fit.runs.includes(runId)) ?? newest[0])?.id
}

function applyChanges(store: Store, id: number, changes: RunChangesBody): void {
  const before = store.runs.get(id)
  const conditions: TestConditions = {
    ...before.conditions,
    ...(changes.ambientCelsius === undefined ? {} : { ambientCelsius: changes.ambientCelsius }),
    ...(changes.windingCelsius === undefined ? {} : { windingCelsius: changes.windingCelsius }),
  }
  const excluded = changes.excluded?.map(({ fromSec, toSec, reason }) => {
    if (!(toSec > fromSec)) {
      throw new InputFault(
        `run ${id}: samples from ${fromSec} s to ${toSec} s cannot be excluded; the end must be after the start`,
      )
    }
    return { ...store.runs.samplesWithin(id, fromSec, toSec), reason }
  })
  store.runs.change(id, {
    ...(changes.title === undefined ? {} : { title: changes.title }),
    ...(changes.kind === undefined ? {} : { kind: changes.kind }),
    ...(changes.motor === undefined ? {} : { motorId: changes.motor }),
    conditions,
  })
  if (excluded) store.runs.exclude(id, excluded)
  if (changes.annotation) store.runs.annotate(id, { ...changes.annotation, author: '' })
}

function runDetails(store: Store, run: RunRecord, diary: RunDiary): RunPage['run'] {
  return {
    ...runFacts(run),
    source: run.source,
    conditions: { ...run.conditions },
    rig: run.rig && { ...run.rig },
    rateHz: run.rateHz,
    annotations: run.annotations.map(note => ({ ...note })),
    excluded: run.excluded.map(range => ({
      ...range,
      fromSec: momentOf(store, run, range.from),
      toSec: momentOf(store, run, range.to),
    })),
    notes: diary.notes.map(note => ({ ...note })),
  }
}

/** Time of a sample; its number where rows are steady readings. */
function momentOf(store: Store, run: RunRecord, sample: number): number {
  const last = Math.max(0, run.sampleCount - 1)
  const at = Math.min(sample, last)
  const { timeSec } = store.runs.recording(run.id, { from: at, to: at + 1 })
  return timeSec?.[0] ?? sample
}

/** Longer runs are not read through for a picture: there the logged edges count. */
const MOST_SAMPLES = 2_000_000

/** What bridge and shaft did, found in the samples. */
function phasesOf(
  store: Store,
  run: RunRecord,
  diary: RunDiary,
): Pick<RunPage, 'phases' | 'phasesInferred'> {
  if (run.sampleCount > MOST_SAMPLES) {
    return { phases: loggedPhases(run, diary), phasesInferred: false }
  }
  const signals = readSignals(store.runs.testRun(run.id))
  const { phases, inferred } = findPhases(signals)
  const time = signals.timeSec
  return {
    phasesInferred: inferred && phases.length > 0,
    phases: time
      ? phases.map(({ kind, start, end, edgeSec }) => ({
          fromSec: edgeSec ?? time[start]!,
          toSec: time[Math.min(end, time.length - 1)]!,
          state: kind,
        }))
      : [],
  }
}

function loggedPhases(run: RunRecord, diary: RunDiary): PhaseView[] {
  const end = run.durationSec ?? 0
  return diary.edges.map((edge, index) => ({
    fromSec: Math.max(0, edge.timeSec),
    toSec: diary.edges[index + 1]?.timeSec ?? end,
    state: edge.state,
  }))
}
