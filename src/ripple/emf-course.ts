import type { RunSignals } from '../signals/run-signals.ts'
import { quantileOf, whiteNoise } from '../statistics/robust.ts'
import { pulseVoltage } from './pulse-voltage.ts'
import { bridged, type Pieces, type RipplePiece } from './pieces.ts'
import { findSwitching, switchingNear } from './find-switching.ts'
import { removeSwitching, type Switching, telling } from './pwm-waveform.ts'
import type { RippleSettings } from './ripple-settings.ts'
import { withoutBeats } from './tones.ts'

/** A piece with its channels ready: holes bridged, switching taken off, and the back-EMF that they imply. */
export interface EmfPiece extends RipplePiece {
  /** The channel that ripples as it was read, and without the switching. */
  readonly raw: Float64Array
  readonly ripple: Float64Array
  /** Voltage of the terminals without the switching; null where there is no such channel. */
  readonly voltage: Float64Array | null
  /** Smoothed v − R i − V_b, or v where the terminals are open; null without a voltage. */
  readonly emf: Float64Array | null
  readonly switching: Switching | null
}

export interface EmfCourse {
  readonly rateHz: number
  /** Over which each reading of the channel that ripples was averaged. */
  readonly apertureSec: number
  readonly pieces: readonly EmfPiece[]
  /** Where there is no voltage, the lines of the current may tell a course of the speed, up to a factor, in place of the back-EMF. */
  readonly emfFrom: 'voltage' | 'lines'
  /** What was used for R: given, or judged from the record; null where nothing tells it. */
  readonly resistanceOhm: number | null
  /** Samples over which the back-EMF was averaged. */
  readonly blockSamples: number
}

const FIRST_BLOCK_SEC = 2.5e-4
const LONGEST_BLOCK_SEC = 0.05
/** Blocks grow until the back-EMF scatters by less than this share of its largest. */
const WANTED_SCATTER = 0.01
/** Currents below this share of the largest say nothing of the resistance. */
const LARGE_SHARE = 0.3
/** The record holds a start from rest if the smallest ratio v/i lies this far below the usual one. */
const START_RATIO = 0.6

/** The back-EMF over time, from which speed follows but for the factor k: v = R i + V_b + k ω. */
export function emfCourse(
  signals: RunSignals,
  { periodSec, pieces }: Pieces,
  settings: RippleSettings,
): EmfCourse {
  const rateHz = 1 / periodSec
  const switching = switchingOf(signals, pieces, rateHz, settings)
  const cleaned = pieces.map(piece => cleanPiece(signals, piece, switching))
  const resistanceOhm = settings.resistanceOhm ?? judgeResistance(cleaned, rateHz)
  const block = chooseBlock(cleaned, resistanceOhm ?? 0, settings.brushDropVolt, rateHz)
  return {
    rateHz,
    apertureSec: (signals.current ?? signals.voltage)?.traits.apertureSec ?? 0,
    emfFrom: 'voltage',
    resistanceOhm,
    blockSamples: block,
    pieces: cleaned.map(piece => ({
      ...piece,
      emf: emfOf(piece, resistanceOhm ?? 0, settings.brushDropVolt, block),
    })),
  }
}

/**
 * A bridge switches at one rate; the longest stretch tells it best. A harmonic that matters in one piece counts in all: one
 * duty may have none where another does.
 */
function switchingOf(
  signals: RunSignals,
  pieces: readonly RipplePiece[],
  rateHz: number,
  settings: RippleSettings,
): Switching | null {
  const closed = pieces
    .filter(({ terminals }) => terminals === 'closed')
    .toSorted((a, b) => b.end - b.start - (a.end - a.start))
    .map(({ start, end }) => ({
      current: signals.current && bridged(signals.current.values, start, end),
      voltage: signals.voltage && bridged(signals.voltage.values, start, end),
    }))
  const shown = shownSwitching(closed, rateHz, settings)
  const frequency =
    shown ?? declaredSwitching(closed[0]?.current ?? null, rateHz, signals, settings)
  if (frequency === null) return null
  const harmonics = new Set<number>()
  for (const { current, voltage } of closed) {
    if (current === null) continue
    // A voltage behind a filter does not tell what drives the current.
    const driving = shown === null ? null : voltage
    for (const harmonic of telling(current, driving, frequency, rateHz).harmonics ?? []) {
      harmonics.add(harmonic)
    }
  }
  return { frequency, sampleRate: rateHz, harmonics: [...harmonics].sort((a, b) => a - b) }
}

interface ClosedChannels {
  readonly current: Float64Array | null
  readonly voltage: Float64Array | null
}

/** Null where no voltage shows it. */
function shownSwitching(
  closed: readonly ClosedChannels[],
  rateHz: number,
  { resistanceOhm }: RippleSettings,
): number | null {
  for (const { current, voltage } of closed) {
    const found = voltage && findSwitching(voltage, current, rateHz, resistanceOhm)
    if (found) return found
  }
  return null
}

function declaredSwitching(
  current: Float64Array | null,
  rateHz: number,
  { run }: RunSignals,
  { switchingHz }: RippleSettings,
): number | null {
  const nominalHz = switchingHz ?? run.conditions.switchingHz
  if (!nominalHz) return null
  return current === null ? nominalHz : switchingNear(current, nominalHz, rateHz)
}

function cleanPiece(
  signals: RunSignals,
  piece: RipplePiece,
  switching: Switching | null,
): EmfPiece {
  const channel = (values: Float64Array | undefined) =>
    values ? bridged(values, piece.start, piece.end) : null
  const voltage = channel(signals.voltage?.values)
  const current = channel(signals.current?.values)
  if (piece.terminals === 'open') {
    return { ...piece, raw: voltage!, ripple: voltage!, voltage, emf: null, switching: null }
  }
  if (switching === null) {
    return { ...piece, raw: current!, ripple: current!, voltage, emf: null, switching }
  }
  return {
    ...piece,
    raw: current!,
    ripple: removeSwitching(current!, switching),
    voltage:
      voltage &&
      (pulseVoltage(voltage, switching) ??
        withoutBeats(removeSwitching(voltage, { ...switching, harmonics: null }), switching)),
    emf: null,
    switching,
  }
}

/**
 * The smallest ratio of voltage to current while much current flows: the resistance, if the record holds the
 * start from rest. Null where it does not.
 */
function judgeResistance(pieces: readonly EmfPiece[], rateHz: number): number | null {
  const block = Math.max(1, Math.round(FIRST_BLOCK_SEC * rateHz))
  const ratios: number[] = []
  const amps: number[] = []
  for (const { terminals, ripple, voltage } of pieces) {
    if (terminals === 'open' || voltage === null) continue
    const i = blockMeans(ripple, block)
    const v = blockMeans(voltage, block)
    for (let b = 0; b < i.length; b++) {
      ratios.push(Math.abs(v[b]! / i[b]!))
      amps.push(Math.abs(i[b]!))
    }
  }
  if (ratios.length < 8) return null
  const large = LARGE_SHARE * quantileOf(amps, 0.999)
  const telling = ratios.filter((_, b) => amps[b]! > large)
  const smallest = quantileOf(telling, Math.min(0.5, 3 / telling.length))
  return smallest < START_RATIO * quantileOf(ratios, 0.5) ? smallest : null
}

/** Samples a block over which the back-EMF is averaged: few, but enough to be smooth. */
function chooseBlock(
  pieces: readonly EmfPiece[],
  resistanceOhm: number,
  brushDropVolt: number,
  rateHz: number,
): number {
  let block = Math.max(1, Math.round(FIRST_BLOCK_SEC * rateHz))
  const longest = Math.max(...pieces.map(piece => piece.end - piece.start), 0)
  while (block * 2 <= LONGEST_BLOCK_SEC * rateHz && block * 64 <= longest) {
    let scatter = 0
    let reach = 0
    for (const piece of pieces) {
      const emf = rawEmf(piece, resistanceOhm, brushDropVolt, block)
      if (emf === null) return block
      scatter = Math.max(scatter, whiteNoise(emf))
      reach = Math.max(reach, quantileOf(emf.map(Math.abs), 0.95))
    }
    if (scatter <= WANTED_SCATTER * reach) break
    block *= 2
  }
  return block
}

function rawEmf(
  { terminals, ripple, voltage }: EmfPiece,
  resistanceOhm: number,
  brushDropVolt: number,
  block: number,
): Float64Array | null {
  if (voltage === null) return null
  const v = blockMeans(voltage, block)
  if (terminals === 'open') return v
  const i = blockMeans(ripple, block)
  return v.map((volt, b) => volt - resistanceOhm * i[b]! - brushDropVolt * Math.sign(i[b]!))
}

/** Block means joined by straight lines; one mean where a piece is shorter than a block. Null without a voltage. */
function emfOf(
  piece: EmfPiece,
  resistanceOhm: number,
  brushDropVolt: number,
  longestBlock: number,
): Float64Array | null {
  const emf = new Float64Array(piece.end - piece.start)
  const block = Math.min(longestBlock, emf.length)
  const means = rawEmf(piece, resistanceOhm, brushDropVolt, block)
  if (means === null) return null
  const last = means.length - 1
  for (let i = 0; i < emf.length; i++) {
    const place = Math.min(last, Math.max(0, (i + 0.5) / block - 0.5))
    const below = Math.floor(place)
    const above = Math.min(last, below + 1)
    emf[i] = means[below]! + (place - below) * (means[above]! - means[below]!)
  }
  return emf
}

function blockMeans(values: Float64Array, block: number): Float64Array {
  const means = new Float64Array(Math.floor(values.length / block))
  for (let b = 0; b < means.length; b++) {
    let sum = 0
    for (let i = b * block; i < (b + 1) * block; i++) sum += values[i]!
    means[b] = sum / block
  }
  return means
}
