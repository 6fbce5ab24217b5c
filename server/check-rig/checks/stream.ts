import type { RateDeclaration } from '../../../src/protocol/declaration.ts'
import type { SampleFormat } from '../../../src/protocol/request.ts'
import { layoutOf, type SampleBatch } from '../../../src/protocol/sample-lines.ts'
import { WIRE } from '../../../src/protocol/wire.ts'
import type { SeenLine } from '../check-line.ts'
import {
  ask,
  type Check,
  eventsFrom,
  granted,
  refused,
  type RigUnderCheck,
  step32,
} from '../rig-under-check.ts'

const STREAM_MS = 400

/** Sampling and streaming in every format that the line carries (P-6). */
export function streamChecks(rig: RigUnderCheck): Check[] {
  const checks: Check[] = [checkSamplingRefusals]
  for (const format of ['block', 'decimal'] as const) {
    const carried = rig.rates.filter(rate => rate[format])
    const fastest = carried[0]
    const slowest = carried.at(-1)
    if (fastest) checks.push(r => checkStream(r, fastest, format, allChannels(r)))
    if (slowest && slowest !== fastest) {
      checks.push(r => checkStream(r, slowest, format, allChannels(r)))
    }
    if (slowest) checks.push(r => checkStream(r, slowest, format, 1))
  }
  return checks
}

export const allChannels = (rig: RigUnderCheck) => 2 ** rig.channels.length - 1

export const samplingText = (periodNs: number, format: SampleFormat, mask: number) =>
  `sampling period-ns=${periodNs} format=${format} channels=${mask}`

async function checkSamplingRefusals(rig: RigUnderCheck): Promise<void> {
  const known = rig.rates.find(r => r.block || r.decimal)
  if (!known) return
  const format = known.block ? 'block' : 'decimal'
  const { periodNs } = known
  const mask = allChannels(rig)
  await refused(rig, samplingText(periodNs + 1, format, mask), 'P-6.1', 'bad-value')
  await refused(rig, samplingText(periodNs, format, 0), 'P-6.1', 'bad-value')
  if (rig.channels.length < WIRE.maxChannels) {
    await refused(rig, samplingText(periodNs, format, mask + 1), 'P-6.1', 'bad-value')
  }
  const slow = rig.rates.find(r => !r.decimal)
  if (slow) {
    await refused(rig, samplingText(slow.periodNs, 'decimal', mask), 'P-6.1', 'too-fast')
  }
}

async function checkStream(
  rig: RigUnderCheck,
  rate: RateDeclaration,
  format: SampleFormat,
  mask: number,
): Promise<void> {
  const { line, judge } = rig
  const layout = layoutOf(rig.channels, mask)
  line.setLayout(layout, null)
  if (!(await granted(rig, samplingText(rate.periodNs, format, mask), 'P-6.1'))) return
  const from = line.lines.length
  const on = await ask(rig, 'stream mode=on')
  if (on?.answer.kind !== 'ok') {
    judge.broken('P-6.9', 'stream mode=on was refused', on?.line.raw ?? null)
    return
  }
  const first = on.answer.sequence
  judge.expect('P-6.9', first !== null, 'the answer has no sequence', on.line.raw)
  judge.expect('P-4.7', first !== null, 'the answer has no sequence', on.line.raw)
  await refused(rig, 'stream mode=on', 'P-6.9', 'not-now')
  await refused(rig, samplingText(rate.periodNs, format, mask), 'P-6.1', 'not-now')
  if (rig.channels.some(c => c.quantity === 'position')) {
    await refused(rig, 'zero', 'P-5.9', 'not-now')
  }
  await line.pause(Math.max(STREAM_MS, (4 * rate.periodNs) / 1e6))
  const off = await ask(rig, 'stream mode=off')
  if (!off) return
  await line.pause(150)
  const late = line.lines.slice(off.line.index).find(isSamples)
  judge.expect('P-6.10', !late, 'samples after the answer to stream mode=off', late?.raw ?? null)
  judgeStream(rig, from, off.line, rate, format, first, on.answer.timeUs)
}

/** Everything that a finished stream shows of its counters, times and losses. */
function judgeStream(
  rig: RigUnderCheck,
  from: number,
  off: SeenLine,
  rate: RateDeclaration,
  format: SampleFormat,
  first: number | null,
  onTimeUs: number,
): void {
  const { line, judge } = rig
  const lines = line.lines.slice(from, off.index).filter(isSamples)
  if (lines.length === 0) {
    judge.broken('P-6.9', 'no readable samples came', null)
    return
  }
  const formatClause = format === 'block' ? 'P-6.5' : 'P-6.3'
  judge.kept(formatClause)
  judge.kept('P-6.2')
  judge.kept('P-6.11')
  const said = lossesSaid(rig, from)
  let next = first ?? batchOf(lines[0]!).sequence
  let lost = 0
  const origin = batchOf(lines[0]!)
  for (const seen of lines) {
    const batch = batchOf(seen)
    const wanted = format === 'block' ? 'B' : 'S'
    judge.expect(formatClause, seen.raw.startsWith(wanted), `asked for ${wanted} lines`, seen.raw)
    const gap = step32(next, batch.sequence)
    judge.expect('P-6.7', gap >= 0, `counter went back by ${-gap}`, seen.raw)
    for (let k = 0; k < gap; k++) {
      const explained = said.some(
        o => o.index < seen.index && covers(o.sequence, o.dropped, (next + k) >>> 0),
      )
      const text = `sample ${(next + k) >>> 0} is missing and no overrun came before this line`
      judge.expect('P-7.6', explained, text, seen.raw)
      judge.expect('P-6.8', explained, text, seen.raw)
      if (!explained) break
    }
    lost += Math.max(0, gap)
    if (gap === 0) judge.kept('P-6.8')
    next = (batch.sequence + batch.count) >>> 0
    judgeTime(rig, seen, batch, origin, rate)
    const spanMs = ((batch.count - 1) * rate.periodNs) / 1e6
    if (format === 'block') {
      const text = `a block of ${spanMs.toFixed(1)} ms`
      judge.expect('P-6.6', spanMs <= WIRE.blockSpanMs, text, seen.raw)
    }
    judgeLength(rig, seen)
  }
  judge.kept('P-6.7')
  const waitUs = step32(onTimeUs, origin.timeUs)
  judge.expect(
    'P-6.9',
    waitUs >= 0 && waitUs <= rate.periodNs / 1000 + 20_000,
    `the first sample is ${waitUs} us after stream mode=on`,
    lines[0]!.raw,
  )
  judgeEnd(rig, off, next, lost)
}

function judgeTime(
  rig: RigUnderCheck,
  seen: SeenLine,
  batch: SampleBatch,
  origin: SampleBatch,
  rate: RateDeclaration,
): void {
  const samples = step32(origin.sequence, batch.sequence)
  const elapsedUs = step32(origin.timeUs, batch.timeUs)
  const dueUs = (samples * rate.periodNs) / 1000
  const text = `${elapsedUs} us after the first sample; ${samples} periods are ${dueUs} us`
  rig.judge.expect('P-11.3', Math.abs(elapsedUs - dueUs) <= 2, text, seen.raw)
}

/** 20 ms on the wire, where there is a baud rate. */
export function judgeLength(rig: RigUnderCheck, seen: SeenLine): void {
  const baud = rig.identity?.baud ?? 0
  if (baud === 0) return
  const ms = (seen.bytes * 10_000) / baud
  // Advice, not a must, but blocks the answers behind it: said when it is far off.
  const text = `a line of ${seen.bytes} bytes takes ${ms.toFixed(0)} ms at ${baud} baud`
  rig.judge.expect('P-3.8', ms <= 2 * WIRE.lineMs, text, seen.raw)
}

function judgeEnd(rig: RigUnderCheck, off: SeenLine, next: number, lost: number): void {
  const { judge } = rig
  if (off.content.kind !== 'message' || off.content.message.kind !== 'answer') return
  const { answer } = off.content.message
  if (answer.kind !== 'ok' || answer.sequence === null || answer.dropped === null) {
    judge.broken('P-6.10', 'the answer must have sequence and dropped', off.raw)
    return
  }
  lost += Math.max(0, step32(next, answer.sequence))
  const text = `${lost} samples are missing by their counters, dropped=${answer.dropped}`
  judge.expect('P-6.10', lost === answer.dropped, text, off.raw)
}

function lossesSaid(rig: RigUnderCheck, from: number) {
  return eventsFrom(rig, from).flatMap(({ event, line }) =>
    event.name === 'overrun'
      ? [{ index: line.index, sequence: event.sequence, dropped: event.dropped }]
      : [],
  )
}

const covers = (from: number, count: number, sequence: number) => {
  const step = step32(from, sequence)
  return step >= 0 && step < count
}

const isSamples = (seen: SeenLine) => seen.content.kind === 'samples'

function batchOf(seen: SeenLine): SampleBatch {
  if (seen.content.kind !== 'samples') throw new RangeError('seen must be a line of samples')
  return seen.content.batch
}
