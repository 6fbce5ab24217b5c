import type { ChannelDeclaration } from '../../../src/protocol/channel.ts'
import {
  ask,
  type Check,
  declared,
  eventsFrom,
  granted,
  isEvent,
  refused,
  type RigUnderCheck,
  step32,
} from '../rig-under-check.ts'
import { checkChannels } from './declarations.ts'
import { allChannels, samplingText } from './stream.ts'

/** The zero mark (P-5.9), and the burst memory, triggered at once so that nothing moves (P-9). */
export const burstChecks = (): Check[] => [checkZero, checkMemory]

async function checkMemory(rig: RigUnderCheck): Promise<void> {
  const memory = rig.limits?.burst ?? null
  if (memory === null) {
    await refused(rig, 'burst-channels', 'P-9.7', 'not-fitted')
    await refused(rig, 'burst samples=1 before=0 trigger=now', 'P-9.7', 'not-fitted')
    await refused(rig, 'upload from=0 samples=1', 'P-9.7', 'not-fitted')
    return
  }
  const channels = await readBurstChannels(rig)
  if (!channels) return
  rig.line.setLayout(rig.channels, channels)
  await checkRefusals(rig, memory.samples)
  await checkUnderWay(rig)
  await checkCapture(rig, Math.min(memory.samples, 200), memory.periodNs)
}

async function checkCapture(rig: RigUnderCheck, samples: number, periodNs: number): Promise<void> {
  const { line, judge } = rig
  const from = line.lines.length
  const streaming = await startStream(rig)
  if (!(await granted(rig, `burst samples=${samples} before=0 trigger=now`, 'P-9.1'))) return
  const ready = await line.waitFor(from, isEvent('burst-ready'))
  const [event] = ready ? eventsFrom(rig, ready.index) : []
  if (!ready || event?.event.name !== 'burst-ready') {
    judge.broken('P-9.4', 'no burst-ready came', null)
    return
  }
  const full = event.event.samples === samples && event.event.before === 0
  for (const clause of ['P-9.4', 'P-7.9']) {
    judge.expect(clause, full, `asked for ${samples} samples from now`, ready.raw)
  }
  await checkUpload(rig, samples, periodNs, event.timeUs)
  await refused(rig, `upload from=${samples - 1} samples=2`, 'P-9.5', 'bad-value')
  if (streaming) await endStream(rig)
}

async function checkZero(rig: RigUnderCheck): Promise<void> {
  const position = rig.channels.some(c => c.quantity === 'position')
  if (position) await granted(rig, 'zero', 'P-5.9')
  else await refused(rig, 'zero', 'P-5.9', 'not-fitted')
}

async function readBurstChannels(rig: RigUnderCheck): Promise<ChannelDeclaration[] | null> {
  const found = await ask(rig, 'burst-channels')
  if (!found) return null
  const channels = declared(found, 'channel').map(d => d.channel)
  const text = `${channels.length} channels in a burst, ${rig.channels.length} in the stream`
  rig.judge.expect('P-9.7', channels.length === rig.channels.length, text, found.line.raw)
  if (channels.length !== rig.channels.length) return null
  checkChannels(rig.judge, channels, found)
  return channels
}

async function checkRefusals(rig: RigUnderCheck, most: number): Promise<void> {
  const tooMany = `burst samples=${most + 1} before=0 trigger=now`
  await refused(rig, tooMany, 'P-9.1', 'bad-value')
  await refused(rig, 'burst samples=10 before=10 trigger=now', 'P-9.1', 'bad-value')
}

/** A burst that waits for the bridge holds off sampling and zero, until `disarm` gives it up. */
async function checkUnderWay(rig: RigUnderCheck): Promise<void> {
  const rate = rig.rates.find(r => r.block) ?? rig.rates.find(r => r.decimal)
  if (!rate) return
  const set = samplingText(rate.periodNs, rate.block ? 'block' : 'decimal', allChannels(rig))
  if (!(await granted(rig, 'burst samples=10 before=5 trigger=bridge', 'P-9.1'))) return
  await refused(rig, set, 'P-9.2', 'not-now')
  if (rig.channels.some(c => c.quantity === 'position')) {
    await refused(rig, 'zero', 'P-9.2', 'not-now')
  }
  await refused(rig, 'upload from=0 samples=1', 'P-9.5', 'no-data')
  await ask(rig, 'disarm')
  await granted(rig, set, 'P-9.2')
  await refused(rig, 'upload from=0 samples=1', 'P-9.2', 'no-data')
}

async function startStream(rig: RigUnderCheck): Promise<boolean> {
  const on = await ask(rig, 'stream mode=on')
  return on?.answer.kind === 'ok'
}

async function endStream(rig: RigUnderCheck): Promise<void> {
  const off = await ask(rig, 'stream mode=off')
  if (off?.answer.kind !== 'ok') return
  const dropped = off.answer.dropped ?? 0
  const text = `${dropped} samples of the stream were dropped while a burst was taken and uploaded`
  rig.judge.expect('P-9.3', dropped === 0, text, off.line.raw)
}

async function checkUpload(
  rig: RigUnderCheck,
  samples: number,
  periodNs: number,
  readyUs: number,
): Promise<void> {
  const { judge } = rig
  // Twice, the second time a piece: what was captured stays (P-9.5).
  let kept: Map<number, string> | null = null
  for (const [start, count] of [
    [0, samples],
    [Math.floor(samples / 2), 3],
  ] as const) {
    const rows = await uploadRows(rig, start, count, periodNs, readyUs)
    if (rows === null) return
    const same = [...rows].every(([k, row]) => kept === null || kept.get(k) === row)
    judge.expect('P-9.5', same, 'the same piece came with other counts', null)
    kept ??= rows
  }
  await checkReplaced(rig, samples)
}

/** An upload that is asked for while another runs takes its place (P-9.6). */
async function checkReplaced(rig: RigUnderCheck, samples: number): Promise<void> {
  const { line, judge } = rig
  const wanted = samples - 1
  await line.post(`upload from=0 samples=${samples}`)
  const second = await ask(rig, `upload from=${wanted} samples=1`)
  if (second?.answer.kind !== 'ok') return
  await line.pause(200)
  const pieces = line.lines.slice(second.line.index).filter(seen => seen.content.kind === 'upload')
  const old = pieces.find(
    seen => seen.content.kind === 'upload' && seen.content.batch.sequence !== wanted,
  )
  judge.expect('P-9.6', !old, 'a piece of an upload that was replaced', old?.raw ?? null)
  judge.expect('P-9.6', pieces.length > 0, 'the upload that replaced one did not come', null)
}

async function uploadRows(
  rig: RigUnderCheck,
  start: number,
  count: number,
  periodNs: number,
  readyUs: number,
): Promise<Map<number, string> | null> {
  const { line, judge } = rig
  const from = line.lines.length
  const asked = await ask(rig, `upload from=${start} samples=${count}`)
  if (asked?.answer.kind !== 'ok') {
    judge.broken('P-9.5', 'an upload was refused', asked?.line.raw ?? null)
    return null
  }
  const announced = asked.answer.samples
  judge.expect('P-9.5', announced === count, `samples=${announced} announced`, asked.line.raw)
  const rows = new Map<number, string>()
  let next = start
  const until = line.nowMs() + 3000
  let at = from
  while (next < start + count && line.nowMs() < until) {
    for (; at < line.lines.length; at++) {
      const seen = line.lines[at]!
      if (seen.content.kind !== 'upload') continue
      const { batch } = seen.content
      judge.expect(
        'P-9.5',
        batch.sequence === next,
        `piece ${batch.sequence}, not ${next}`,
        seen.raw,
      )
      const dueUs = (batch.sequence * periodNs) / 1000
      const offUs = Math.abs(step32(readyUs, batch.timeUs) - dueUs)
      judge.expect('P-9.1', offUs <= 2, `its time is ${offUs.toFixed(0)} us off`, seen.raw)
      for (let k = 0; k < batch.count; k++) {
        const row = batch.counts.slice(k * batch.channels, (k + 1) * batch.channels)
        rows.set(batch.sequence + k, row.join())
      }
      next = batch.sequence + batch.count
    }
    await line.pause(5)
  }
  judge.expect(
    'P-9.5',
    rows.size === count,
    `${rows.size} of ${count} samples came`,
    asked.line.raw,
  )
  return rows
}
