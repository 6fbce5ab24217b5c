import type { PreparedRun } from '../../motor/prepared-run.ts'
import type { StepClass } from '../../motor/step-matrices.ts'

/** What one step holds; means over its samples. */
export interface BuiltStep {
  classIndex: number
  phase: number
  start: number
  voltage: number
  current: number
  speed: number
  currentRipple: number
  loadTorque: number
  heat: number
  edgeDoubt: number
  sample: number
  span: number
}

/** Columns of steps that grow, and the classes their steps fall into. */
export class StepBuilder {
  readonly classes: StepClass[] = []
  count = 0
  private readonly indexOf = new Map<string, number>()
  private capacity = 1024
  private classOf = new Uint16Array(this.capacity)
  private phase = new Uint8Array(this.capacity)
  private start = new Uint8Array(this.capacity)
  private voltage = new Float64Array(this.capacity)
  private current = new Float64Array(this.capacity)
  private speed = new Float64Array(this.capacity)
  private currentRipple = new Float64Array(this.capacity)
  private loadTorque = new Float64Array(this.capacity)
  private heat = new Float64Array(this.capacity)
  private edgeDoubt = new Float64Array(this.capacity)
  private sampleOf = new Int32Array(this.capacity)
  private spanOf = new Uint32Array(this.capacity)

  classFor(key: string, make: () => StepClass): number {
    const known = this.indexOf.get(key)
    if (known !== undefined) return known
    const index = this.classes.length
    this.classes.push(make())
    this.indexOf.set(key, index)
    return index
  }

  push(step: BuiltStep): void {
    if (this.count === this.capacity) this.grow()
    const k = this.count
    this.classOf[k] = step.classIndex
    this.phase[k] = step.phase
    this.start[k] = step.start
    this.voltage[k] = step.voltage
    this.current[k] = step.current
    this.speed[k] = step.speed
    this.currentRipple[k] = step.currentRipple
    this.loadTorque[k] = step.loadTorque
    this.heat[k] = step.heat
    this.edgeDoubt[k] = step.edgeDoubt
    this.sampleOf[k] = step.sample
    this.spanOf[k] = step.span
    this.count += 1
  }

  /** Cells: up to `most` to a span, of about equal numbers of steps. */
  finish(
    rest: Omit<
      PreparedRun,
      | 'stepCount'
      | 'classes'
      | 'classOf'
      | 'phase'
      | 'start'
      | 'voltage'
      | 'current'
      | 'speed'
      | 'currentRipple'
      | 'loadTorque'
      | 'heat'
      | 'edgeDoubt'
      | 'sampleOf'
      | 'cellOf'
      | 'spanOfCell'
    > & { hasLoadTorque: boolean },
    cellsPerSpan: number,
  ): PreparedRun {
    const n = this.count
    const { hasLoadTorque, ...facts } = rest
    const { cellOf, spanOfCell } = this.cells(cellsPerSpan)
    return {
      ...facts,
      stepCount: n,
      classes: this.classes,
      classOf: this.classOf.slice(0, n),
      phase: this.phase.slice(0, n),
      start: this.start.slice(0, n),
      voltage: this.voltage.slice(0, n),
      current: this.current.slice(0, n),
      speed: this.speed.slice(0, n),
      currentRipple: this.currentRipple.slice(0, n),
      loadTorque: hasLoadTorque ? this.loadTorque.slice(0, n) : null,
      heat: this.heat.slice(0, n),
      edgeDoubt: this.edgeDoubt.slice(0, n),
      sampleOf: this.sampleOf.slice(0, n),
      cellOf,
      spanOfCell,
    }
  }

  private cells(most: number): { cellOf: Uint16Array; spanOfCell: Uint16Array } {
    const cellOf = new Uint16Array(this.count)
    const spanOfCell: number[] = []
    for (let from = 0; from < this.count; ) {
      const span = this.spanOf[from]!
      let to = from
      while (to < this.count && this.spanOf[to] === span) to++
      const pieces = Math.min(most, Math.max(1, Math.floor((to - from) / FEWEST_STEPS)))
      for (let piece = 0; piece < pieces; piece++) {
        const start = from + Math.floor(((to - from) * piece) / pieces)
        const end = from + Math.floor(((to - from) * (piece + 1)) / pieces)
        cellOf.fill(spanOfCell.length, start, end)
        spanOfCell.push(span)
      }
      from = to
    }
    return { cellOf, spanOfCell: Uint16Array.from(spanOfCell) }
  }

  private grow(): void {
    this.capacity *= 2
    const larger = <T extends { set(from: T): void }>(to: T, from: T): T => {
      to.set(from)
      return to
    }
    this.classOf = larger(new Uint16Array(this.capacity), this.classOf)
    this.phase = larger(new Uint8Array(this.capacity), this.phase)
    this.start = larger(new Uint8Array(this.capacity), this.start)
    this.voltage = larger(new Float64Array(this.capacity), this.voltage)
    this.current = larger(new Float64Array(this.capacity), this.current)
    this.speed = larger(new Float64Array(this.capacity), this.speed)
    this.currentRipple = larger(new Float64Array(this.capacity), this.currentRipple)
    this.loadTorque = larger(new Float64Array(this.capacity), this.loadTorque)
    this.heat = larger(new Float64Array(this.capacity), this.heat)
    this.edgeDoubt = larger(new Float64Array(this.capacity), this.edgeDoubt)
    this.sampleOf = larger(new Int32Array(this.capacity), this.sampleOf)
    this.spanOf = larger(new Uint32Array(this.capacity), this.spanOf)
  }
}

const FEWEST_STEPS = 8
