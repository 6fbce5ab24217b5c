import { InputFault } from '../../src/base/faults.ts'
import type { RigFacts as ProcedureFacts } from '../../src/procedure/rig-facts.ts'
import type { ChannelDeclaration } from '../../src/protocol/channel.ts'
import { traitsOf } from '../../src/protocol/counts.ts'
import type {
  Identity,
  LimitsDeclaration,
  RateDeclaration,
  RigStatus,
} from '../../src/protocol/declaration.ts'
import type { RigIdentity } from '../../src/records/bench.ts'
import type { Channel } from '../../src/records/channel.ts'
import { type Quantity, UNIT_OF } from '../../src/records/quantity.ts'

/** What a rig declared about itself when the session connected, in SI. */
export interface RigFacts extends RigIdentity {
  /** In the order in which a sample holds them. */
  readonly channels: readonly Channel[]
  /** Rates at which the line carries every channel, ascending. */
  readonly ratesHz: readonly number[]
  readonly limits: RigLimits
  /** The bridge can drive in both directions. */
  readonly reversible: boolean
  /** Switching frequency of the bridge; null for a linear output. */
  readonly pwmHz: number | null
  /** Measured when the session connected. */
  readonly busVolt: number
  /** Null where the rig has no burst memory. */
  readonly burst: { readonly rateHz: number; readonly samples: number } | null
}

/** Limits that the rig enforces by itself; null where it does not declare one. */
export interface RigLimits {
  readonly driveVolt: number
  readonly currentAmp: number
  readonly busVolt: number | null
  readonly speedRadPerSec: number | null
  readonly stallSec: number | null
  readonly longestDriveSec: number
  readonly watchdogSec: number
}

/** As it came over the line. */
export interface RigDeclarations {
  readonly identity: Identity
  readonly channels: readonly ChannelDeclaration[]
  readonly rates: readonly RateDeclaration[]
  readonly limits: LimitsDeclaration
  readonly status: RigStatus
}

export function factsOf(declared: RigDeclarations): RigFacts {
  const { identity, channels, rates, limits, status } = declared
  return {
    model: identity.model,
    serialNumber: identity.serialNumber,
    firmware: identity.firmware,
    protocolVersion: String(identity.protocolVersion),
    simulated: identity.simulated,
    channels: channels.map(channelOf),
    ratesHz: carriedRates(rates)
      .map(rate => 1e9 / rate.periodNs)
      .sort((a, b) => a - b),
    limits: {
      driveVolt: limits.driveVolt,
      currentAmp: limits.currentAmp,
      busVolt: limits.busHighVolt,
      speedRadPerSec: limits.speedRadPerSec,
      stallSec: limits.stallSec,
      longestDriveSec: limits.longestDriveSec,
      watchdogSec: limits.watchdogSec,
    },
    reversible: limits.reversible,
    pwmHz: limits.pwmHz,
    busVolt: status.busVolt,
    burst: limits.burst && { rateHz: 1e9 / limits.burst.periodNs, samples: limits.burst.samples },
  }
}

/** A rig may declare periods that its line is too slow for (P-5.6): nothing is planned at those. */
export const carriedRates = (rates: readonly RateDeclaration[]): RateDeclaration[] =>
  rates.filter(rate => rate.decimal || rate.block)

export function channelOf(declared: ChannelDeclaration): Channel {
  const { name, quantity, scale, offset } = declared
  return { name, quantity, scale, offset, traits: traitsOf(declared) }
}

/** What planning and watching need of a connected rig. */
export function procedureFacts(rig: RigFacts, ambientCelsius: number | null): ProcedureFacts {
  const noiseOf = (quantity: Quantity) =>
    rig.channels.find(channel => channel.quantity === quantity)?.traits.noise ?? null
  return {
    model: rig.model,
    serialNumber: rig.serialNumber,
    simulated: rig.simulated,
    channels: rig.channels.map(channel => channel.quantity),
    channelTexts: rig.channels.map(channelText),
    ratesHz: rig.ratesHz,
    reversible: rig.reversible,
    limits: rig.limits,
    supplyVolt: rig.busVolt,
    ambientCelsius,
    noiseAmp: noiseOf('current'),
    noiseRadPerSec: noiseOf('speed'),
    pwmHz: rig.pwmHz,
  }
}

function channelText({ name, quantity, scale, traits }: Channel): string {
  const unit = UNIT_OF[quantity]
  const range =
    traits.rangeLow === null || traits.rangeHigh === null
      ? 'runs round'
      : `${short(traits.rangeLow)} to ${short(traits.rangeHigh)} ${unit}`
  return `${name}: ${quantity}, ${range}, ${short(scale)} ${unit} a count`
}

const short = (value: number) => String(Number(value.toPrecision(4)))

/** The same rig, or a refusal that names both. */
export function checkSameRig(before: RigDeclarations, now: RigDeclarations): void {
  const { identity: a } = before
  const { identity: b } = now
  if (a.serialNumber === b.serialNumber && a.model === b.model) return
  throw new InputFault(
    `another rig answers now: ${b.model}, serial number ${b.serialNumber}; before it was ${a.model}, serial number ${a.serialNumber}. Plug the first one in, or begin anew`,
  )
}
