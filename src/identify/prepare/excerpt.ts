import { type PreparedRun, START } from '../../motor/prepared-run.ts'

/** Of a longer span, its first and its last steps. */
const CHUNK = 50

/**
 * A shorter run with the beginning and the end of every span of the whole one in it: enough to tell
 * noise levels and rough values at a fraction of the cost. After a piece left out the states begin anew,
 * where the span has settled.
 */
export function excerptOf(run: PreparedRun): PreparedRun {
  const taken: number[] = []
  const begins = new Set<number>()
  for (let from = 0; from < run.stepCount; ) {
    const span = run.spanOfCell[run.cellOf[from]!]
    let to = from
    while (to < run.stepCount && run.spanOfCell[run.cellOf[to]!] === span) to++
    const whole = to - from <= 2 * CHUNK
    if (!whole) begins.add(to - CHUNK)
    for (let k = from; k < to; k++) {
      if (whole || k < from + CHUNK || k >= to - CHUNK) taken.push(k)
    }
    from = to
  }
  if (taken.length === run.stepCount) return run
  const start = Uint8Array.from(taken, k =>
    begins.has(k) && run.start[k] === START.goesOn ? START.anew : run.start[k]!,
  )
  const floats = (column: Float64Array) => Float64Array.from(taken, k => column[k]!)
  return {
    ...run,
    stepCount: taken.length,
    classOf: Uint16Array.from(taken, k => run.classOf[k]!),
    phase: Uint8Array.from(taken, k => run.phase[k]!),
    start,
    voltage: floats(run.voltage),
    current: floats(run.current),
    speed: speedsOf(run, taken, start),
    currentRipple: floats(run.currentRipple),
    loadTorque: run.loadTorque && floats(run.loadTorque),
    heat: floats(run.heat),
    edgeDoubt: floats(run.edgeDoubt),
    sampleOf: Int32Array.from(taken, k => run.sampleOf[k]!),
    cellOf: Uint16Array.from(taken, k => run.cellOf[k]!),
  }
}

/** A reading that is a mean over more than its step means nothing until the model has run that long. */
function speedsOf(run: PreparedRun, taken: readonly number[], start: Uint8Array): Float64Array {
  let sinceSec = 0
  return Float64Array.from(taken, (k, n) => {
    const { durationSec, trail } = run.classes[run.classOf[k]!]!
    if (start[n] !== START.goesOn) sinceSec = 0
    sinceSec += durationSec
    const early = trail !== null && sinceSec < trail.apertureSec + trail.delaySec
    return early ? Number.NaN : run.speed[k]!
  })
}
