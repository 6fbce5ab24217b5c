import { WIRE } from '../../../src/protocol/wire.ts'
import { ask, type Check, granted, type RigUnderCheck, step32 } from '../rig-under-check.ts'
import { allChannels, samplingText } from './stream.ts'

const TRIALS = 20
/** A rig's clock and the host's may differ by this much before the rig's is called uneven. */
const CLOCK_TOLERANCE = 0.01
/** What the host's own timers and driver may add to a time that was measured here. */
const HOST_JITTER_MS = 10

/** How fast answers come, idle and at the fastest stream, and whether the rig's clock runs evenly. */
export const timingChecks = (): Check[] => [
  rig => checkAnswers(rig, 'P-11.1'),
  checkClock,
  checkUnderLoad,
]

async function checkUnderLoad(rig: RigUnderCheck): Promise<void> {
  const format = rig.rates.some(r => r.block) ? 'block' : 'decimal'
  const fastest = rig.rates.find(r => r[format])
  if (!fastest) return
  rig.line.setLayout(rig.channels, null)
  const set = samplingText(fastest.periodNs, format, allChannels(rig))
  if (!(await granted(rig, set, 'P-6.1'))) return
  if (!(await granted(rig, 'stream mode=on', 'P-6.9'))) return
  await rig.line.pause(200)
  await checkAnswers(rig, 'P-11.2')
  await ask(rig, 'stream mode=off')
}

/** The best of many: the host's own delays only ever add. */
async function checkAnswers(rig: RigUnderCheck, clause: string): Promise<void> {
  const { line, judge } = rig
  let best = Number.POSITIVE_INFINITY
  let raw: string | null = null
  for (let i = 0; i < TRIALS; i++) {
    const exchange = await ask(rig, 'alive')
    if (exchange === null) continue
    best = Math.min(best, exchange.line.atMs - exchange.sentMs)
    raw = exchange.line.raw
    await line.pause(5)
  }
  const baud = rig.identity?.baud ?? 0
  const busyMs = clause === 'P-11.2' && baud > 0 ? WIRE.lineMs : 0
  const text = `the fastest of ${TRIALS} answers took ${best.toFixed(0)} ms`
  judge.expect(clause, best <= WIRE.answerMs + busyMs, text, raw)
  if (clause === 'P-11.2') judge.expect('P-3.8', best <= WIRE.answerMs + busyMs, text, raw)
}

async function checkClock(rig: RigUnderCheck): Promise<void> {
  // Delays on this side can only spoil a comparison, so the best of three counts.
  let best = { offMs: Number.POSITIVE_INFINITY, text: '', raw: '' }
  for (let i = 0; i < 3 && best.offMs > 0; i++) {
    const first = await ask(rig, 'alive')
    await rig.line.pause(1000)
    const last = await ask(rig, 'alive')
    if (first?.answer.kind !== 'ok' || last?.answer.kind !== 'ok') return
    const rigMs = step32(first.answer.timeUs, last.answer.timeUs) / 1000
    const hostMs = last.line.atMs - first.line.atMs
    const slackMs = CLOCK_TOLERANCE * hostMs + HOST_JITTER_MS
    const offMs = Math.max(0, Math.abs(rigMs - hostMs) - slackMs)
    const text = `the rig's clock made ${rigMs.toFixed(1)} ms in ${hostMs.toFixed(1)} ms`
    if (offMs < best.offMs) best = { offMs, text, raw: last.line.raw }
  }
  rig.judge.expect('P-6.4', best.offMs === 0, best.text, best.raw)
}
