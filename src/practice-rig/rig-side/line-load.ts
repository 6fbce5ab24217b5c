import type { SampleFormat } from '../../protocol/request.ts'
import { samplesPerBlock } from '../../protocol/sample-lines.ts'
import { WIRE } from '../../protocol/wire.ts'

/** What a USB link is taken to carry, where no baud rate limits it. */
const USB_BYTES_PER_SEC = 1_000_000
/** Room for answers and events beside the samples. */
const USABLE_SHARE = 0.9
const NS_PER_SEC = 1e9

/** Ten bits a byte on an asynchronous line; `baud` 0 stands for a link without one. */
export function lineBytesPerSec(baud: number): number {
  return baud > 0 ? baud / 10 : USB_BYTES_PER_SEC
}

/** Longest sample line: 20 ms on the wire (P-3.8), and what a line may have. */
export function sampleLineBytes(baud: number): number {
  const inTime = Math.floor((lineBytesPerSec(baud) * WIRE.lineMs) / 1000)
  return Math.min(WIRE.maxLineBytes, inTime)
}

/** Samples of a block: as many as the line holds, and the 20 ms of P-6.6. */
export function blockSamples(periodNs: number, channels: number, baud: number): number {
  const inTime = Math.floor((WIRE.blockSpanMs * 1e6) / periodNs)
  return Math.max(1, Math.min(inTime, samplesPerBlock(channels, sampleLineBytes(baud))))
}

/** Whether the line carries so many channels at the period, with the widest numbers. */
export function lineCarries(
  format: SampleFormat,
  periodNs: number,
  channels: number,
  baud: number,
): boolean {
  const head = 'S 4294967295 4294967295*0000\n'.length
  let bytesPerSample = head + channels * ' -32768'.length
  if (format === 'block') {
    const samples = blockSamples(periodNs, channels, baud)
    const payload = 4 * Math.ceil((2 * samples * channels) / 3)
    bytesPerSample = (head + ' 9999 '.length + payload) / samples
  }
  return (bytesPerSample * NS_PER_SEC) / periodNs <= USABLE_SHARE * lineBytesPerSec(baud)
}
