import type { Quantity } from '../records/quantity.ts'
import type { PracticeBench, PracticeChannel } from './bench.ts'
import { createEncoder, type EncoderReader } from './encoder.ts'
import type { PracticeSwitches } from './imperfections.ts'
import type { Sampler } from './plant.ts'
import { createSensor, type Sensor, type SensorPiece } from './sensor.ts'

/** What sensors see of the plant. Running integrals serve the averaging windows. */
export interface Measurands {
  readonly timeSec: number
  readonly angle: number
  readonly speed: number
  /** What the encoder stood at when its zero was marked. */
  zeroCounts(countsPerTurn: number): number
  now(quantity: Quantity): number
  integral(quantity: Quantity): number
}

interface Reading {
  readonly sensor: Sensor
  readonly quantity: Quantity
  readonly apertureSec: number
  readonly encoder: EncoderReader | null
  openedSec: number
  opened: number
  value: number
}

/** A moment inside every sample period at which windows close and open. */
interface Mark {
  readonly offsetSec: number
  readonly close: Reading[]
  readonly open: Reading[]
}

/** The plant stops at `nextMarkSec` and calls `passMark`. */
export interface MarkedSampler extends Sampler {
  readonly nextMarkSec: number
  passMark(): void
}

const INTEGRATED: readonly Quantity[] = ['voltage', 'current', 'speed']

/**
 * A period runs from one reading to the next; where none is taken at its end, the next period begins
 * by itself, so that a window never reaches further back than it is declared to.
 */
export function createSampler(
  bench: PracticeBench,
  switches: PracticeSwitches,
  measurands: Measurands,
  periodSec: number,
  pieces: readonly SensorPiece[],
): MarkedSampler {
  const readings = bench.channels.map((channel, index) =>
    createReading(channel, index, pieces[index]!, switches, measurands, periodSec),
  )
  const marks = planMarks(
    readings,
    bench.channels.map(c => c.delaySec),
    periodSec,
  )
  const last = marks.length - 1
  let startSec = measurands.timeSec
  let mark = 0

  function passMark(): void {
    const { close, open } = marks[mark]!
    for (let r = 0; r < close.length; r++) closeWindow(close[r]!, measurands)
    for (let r = 0; r < open.length; r++) openWindow(open[r]!, measurands)
    mark++
    if (mark > last) {
      mark = 0
      startSec += periodSec
    }
  }

  return {
    periodSec,
    channels: readings.map(r => r.sensor.declaration),
    get nextMarkSec() {
      // The end of a period belongs to the reading; it is passed late where none was taken.
      return mark === last ? startSec + periodSec * 1.000001 : startSec + marks[mark]!.offsetSec
    },
    passMark,
    read(counts, at) {
      while (mark !== last) passMark()
      passMark()
      startSec = measurands.timeSec
      for (let r = 0; r < readings.length; r++) {
        const reading = readings[r]!
        counts[at + r] = reading.sensor.read(measure(reading, measurands))
      }
    },
  }
}

function createReading(
  channel: PracticeChannel,
  index: number,
  piece: SensorPiece,
  switches: PracticeSwitches,
  measurands: Measurands,
  periodSec: number,
): Reading {
  const { quantity } = channel
  const counted =
    channel.encoder !== null && (quantity === 'position' || switches.imperfections.encoder)
  const encoder = counted ? createEncoder(channel.encoder!, periodSec) : null
  const wanted = channel.apertureSec === 'period' ? periodSec : channel.apertureSec
  const apertureSec = INTEGRATED.includes(quantity) ? Math.min(wanted, periodSec) : 0
  const windowSec = encoder === null ? apertureSec : quantity === 'speed' ? encoder.windowSec : 0
  return {
    sensor: createSensor(channel, index, piece, switches, windowSec),
    quantity,
    apertureSec,
    encoder,
    openedSec: measurands.timeSec,
    opened: measurands.integral(quantity),
    value: measurands.now(quantity),
  }
}

function openWindow(reading: Reading, measurands: Measurands): void {
  reading.openedSec = measurands.timeSec
  reading.opened = measurands.integral(reading.quantity)
}

function closeWindow(reading: Reading, measurands: Measurands): void {
  const span = measurands.timeSec - reading.openedSec
  reading.value =
    reading.apertureSec > 0 && span > 0
      ? (measurands.integral(reading.quantity) - reading.opened) / span
      : measurands.now(reading.quantity)
}

function measure(reading: Reading, measurands: Measurands): number {
  if (reading.encoder === null) return reading.value
  return reading.quantity === 'position'
    ? reading.encoder.readCounts(measurands.angle) -
        measurands.zeroCounts(reading.encoder.countsPerTurn)
    : reading.encoder.readSpeed(measurands.timeSec, measurands.angle, measurands.speed)
}

/** The last mark is the end of the period, where the sample is taken. */
function planMarks(
  readings: readonly Reading[],
  delaysSec: readonly number[],
  periodSec: number,
): Mark[] {
  const end: Mark = { offsetSec: periodSec, close: [], open: [] }
  const marks: Mark[] = [end]
  const markAt = (offset: number) => {
    const inside = offset > 1e-9 ? offset : offset + periodSec
    const known = marks.find(mark => Math.abs(mark.offsetSec - inside) < 1e-9)
    if (known !== undefined) return known
    const mark: Mark = { offsetSec: inside, close: [], open: [] }
    marks.push(mark)
    return mark
  }
  readings.forEach((reading, index) => {
    if (reading.encoder !== null) return
    const closes = periodSec - Math.min(delaysSec[index]!, periodSec * 0.999)
    markAt(closes).close.push(reading)
    if (reading.apertureSec > 0) markAt(closes - reading.apertureSec).open.push(reading)
  })
  return marks.sort((a, b) => a.offsetSec - b.offsetSec)
}
