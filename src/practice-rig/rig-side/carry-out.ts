import { type Answer, type AnswerOk, okAnswer } from '../../protocol/answer.ts'
import type { Declaration, RigStatus } from '../../protocol/declaration.ts'
import type { DriveRequest, Request, SampleFormat } from '../../protocol/request.ts'
import type { BridgeKeeper } from './bridge-keeper.ts'
import type { BurstMemory } from './burst-memory.ts'
import type { Hardware } from './hardware.ts'
import { lineCarries } from './line-load.ts'
import { refusal } from './refusal.ts'
import type { Sampling, SampleStream } from './sample-stream.ts'

/** What the carrying out of a request works on. */
export interface RigParts {
  readonly hardware: Hardware
  readonly keeper: BridgeKeeper
  readonly stream: SampleStream
  readonly burst: BurstMemory | null
  readonly nowNs: number
  readonly badLines: number
  sampling: Sampling
  timeUs(ns: number): number
}

export interface Reply {
  readonly declarations: readonly Declaration[]
  readonly answer: Answer
}

type Verb<V extends Request['verb']> = Extract<Request, { verb: V }>

/** Carries out every request but `stream mode=off`, whose answer has to wait for the samples. */
export function carryOut(rig: RigParts, id: number, request: Request): Reply {
  const { hardware, keeper, nowNs } = rig
  const done = (more: Partial<AnswerOk> = {}): Reply => ({
    declarations: [],
    answer: okAnswer(id, rig.timeUs(nowNs), more),
  })
  const refused = (...why: Refusal): Reply => ({ declarations: [], answer: refusal(id, ...why) })
  const unless = (why: Refusal | null): Reply => (why === null ? done() : refused(...why))
  const declare = (declarations: readonly Declaration[]): Reply => ({
    declarations,
    answer: okAnswer(id, rig.timeUs(nowNs), { lines: declarations.length }),
  })

  switch (request.verb) {
    case 'identify':
      return declare([{ name: 'identity', identity: hardware.identity }])
    case 'channels':
      return declare(channelLines(hardware.channelsAt(rig.sampling.periodNs)))
    case 'burst-channels':
      return rig.burst === null
        ? refused(...NO_BURST)
        : declare(channelLines(hardware.burstChannels))
    case 'rates':
      return declare(rateLines(hardware))
    case 'limits':
      return declare([{ name: 'limits', limits: hardware.limits }])
    case 'status':
      return declare([{ name: 'status', status: statusOf(rig) }])
    case 'alive':
      return done()
    case 'sampling':
      return unless(setSampling(rig, request))
    case 'stream':
      if (rig.stream.on) return refused('not-now', 'the stream is on')
      rig.stream.start(nowNs, rig.sampling, hardware.identity.baud)
      return done({ sequence: rig.stream.sequence % WRAP })
    case 'arm': {
      const against = keeper.arm(nowNs)
      return unless(against === null ? null : ['unsafe', against])
    }
    case 'disarm':
      rig.burst?.giveUp()
      keeper.disarm(nowNs)
      if (rig.burst?.busy === false) hardware.setBurst(false)
      return done()
    case 'drive': {
      const against = driveRefusal(rig, request)
      if (against === null) keeper.begin(nowNs, id, request)
      return unless(against)
    }
    case 'stop':
      keeper.stop(nowNs)
      return done()
    case 'burst':
      return unless(startBurst(rig, request))
    case 'upload': {
      const captured = rig.burst?.samples ?? null
      if (rig.burst === null) return refused(...NO_BURST)
      if (captured === null) return refused('no-data', 'nothing has been captured')
      if (request.from + request.samples > captured) {
        return refused('bad-value', `the capture has ${captured} samples`)
      }
      rig.burst.send(request.from, request.samples)
      return done({ samples: request.samples })
    }
    case 'zero':
      return unless(markZero(rig))
    default:
      return request satisfies never
  }
}

const WRAP = 4_294_967_296

type Refusal = [code: Parameters<typeof refusal>[1], words: string]

const NO_BURST: Refusal = ['not-fitted', 'this rig has no burst memory']

const channelLines = (channels: ReturnType<Hardware['channelsAt']>): Declaration[] =>
  channels.map(channel => ({ name: 'channel', channel }))

function rateLines(hardware: Hardware): Declaration[] {
  const carries = (format: SampleFormat, periodNs: number) =>
    lineCarries(format, periodNs, hardware.channelsAt(periodNs).length, hardware.identity.baud)
  return hardware.periodsNs.map(periodNs => ({
    name: 'rate',
    rate: {
      periodNs,
      decimal: carries('decimal', periodNs),
      block: carries('block', periodNs),
    },
  }))
}

function statusOf(rig: RigParts): RigStatus {
  const { hardware, keeper, stream } = rig
  return {
    armed: keeper.armed,
    bridge: keeper.mode,
    setVolt: keeper.setVolt,
    streaming: stream.on,
    busVolt: hardware.busVolt,
    trips: keeper.trips,
    badLines: rig.badLines,
    lastTrip: keeper.lastTrip,
    lastTripTimeUs: keeper.lastTrip === null ? 0 : rig.timeUs(keeper.lastTripNs),
    boardCelsius: hardware.boardCelsius,
  }
}

function setSampling(rig: RigParts, request: Verb<'sampling'>): Refusal | null {
  const { hardware, stream, burst } = rig
  const { periodNs, format, channelMask } = request
  if (stream.on) return ['not-now', 'the stream is on']
  if (burst?.busy) return ['not-now', 'a burst is under way']
  if (!hardware.periodsNs.includes(periodNs)) {
    return ['bad-value', `period-ns must be one of ${hardware.periodsNs.join(', ')}`]
  }
  const channels = hardware.channelsAt(periodNs).length
  if (channelMask >= 2 ** channels) {
    return ['bad-value', `channels must be from 1 to ${2 ** channels - 1}`]
  }
  const selected = [...channelMask.toString(2)].filter(bit => bit === '1').length
  if (!lineCarries(format, periodNs, selected, hardware.identity.baud)) {
    return ['too-fast', 'take a longer period, fewer channels or blocks']
  }
  rig.sampling = { periodNs, format, channelMask }
  hardware.setSamplePeriod(periodNs)
  return null
}

function driveRefusal(rig: RigParts, request: DriveRequest): Refusal | null {
  const { limits } = rig.hardware
  const lowest = limits.reversible ? -limits.driveVolt : 0
  const milli = (value: number) => Math.round(value * 1000)
  if (request.setVolt > limits.driveVolt || request.setVolt < lowest) {
    return ['over-limit', `voltage-mv must be from ${milli(lowest)} to ${milli(limits.driveVolt)}`]
  }
  if (request.durationSec > limits.longestDriveSec) {
    return ['over-limit', `duration-ms must be from 1 to ${milli(limits.longestDriveSec)}`]
  }
  if (request.currentLimitAmp > limits.currentAmp) {
    return ['over-limit', `current-ma must be from 1 to ${milli(limits.currentAmp)}`]
  }
  return rig.keeper.armed ? null : ['not-armed', 'arm before driving']
}

function startBurst(rig: RigParts, request: Verb<'burst'>): Refusal | null {
  const { hardware, burst, nowNs } = rig
  if (burst === null) return NO_BURST
  const most = hardware.limits.burst?.samples ?? 0
  if (request.samples > most) return ['bad-value', `samples must be from 1 to ${most}`]
  hardware.setBurst(true)
  burst.start(nowNs, request.samples, request.before, request.trigger === 'now')
  return null
}

function markZero(rig: RigParts): Refusal | null {
  if (rig.stream.on) return ['not-now', 'the stream is on']
  if (rig.burst?.busy) return ['not-now', 'a burst is under way']
  return rig.hardware.markZero() ? null : ['not-fitted', 'this rig has no position channel']
}
