import type { BridgeCause, BridgeMode, TripCause } from '../../protocol/bridge.ts'
import type { RigEvent } from '../../protocol/event.ts'
import type { DriveRequest } from '../../protocol/request.ts'
import type { Guards, Hardware } from './hardware.ts'

interface RunningDrive {
  readonly id: number
  readonly endNs: number
  readonly after: BridgeMode
}

const NS = 1e9

/**
 * Everything that makes a rig safe without its host (P-8): arming, durations, the watchdog, the
 * limits. It alone touches the bridge. Times are nanoseconds of the hardware's clock.
 */
export class BridgeKeeper {
  armed = false
  mode: BridgeMode = 'coast'
  setVolt = 0
  trips = 0
  lastTrip: TripCause | null = null
  lastTripNs = 0
  private readonly hardware: Hardware
  private readonly emit: (timeNs: number, event: RigEvent) => void
  private drive: RunningDrive | null = null
  private limitAmp: number
  private watchdogNs = Number.POSITIVE_INFINITY
  private slowSinceNs: number | null = null
  private lowSinceNs: number | null = null

  constructor(hardware: Hardware, emit: (timeNs: number, event: RigEvent) => void) {
    this.hardware = hardware
    this.emit = emit
    this.limitAmp = hardware.limits.currentAmp
    hardware.setBridge('coast', 0)
  }

  /** What the hardware's comparators watch. */
  get guards(): Guards {
    const { limits } = this.hardware
    const all = Number.POSITIVE_INFINITY
    return {
      currentAmp: this.armed ? this.limitAmp : all,
      speedRadPerSec: (this.armed && limits.speedRadPerSec) || all,
      busHighVolt: this.armed ? limits.busHighVolt : all,
    }
  }

  /** The next moment at which `expire` has something to do. */
  get nextNs(): number {
    return Math.min(this.drive?.endNs ?? Number.POSITIVE_INFINITY, this.watchdogNs)
  }

  /** A readable request has come (P-8.4). */
  feed(nowNs: number): void {
    if (this.armed) this.watchdogNs = nowNs + this.hardware.limits.watchdogSec * NS
  }

  /** Null when armed; else what stands against it (P-8.2). */
  arm(nowNs: number): string | null {
    const { limits, busVolt, speedRadPerSec, boardCelsius, boardLimitCelsius } = this.hardware
    const volts = (value: number) => `${value.toFixed(2)} V`
    if (busVolt < limits.busLowVolt) {
      return `bus at ${volts(busVolt)}, below ${volts(limits.busLowVolt)}`
    }
    if (busVolt > limits.busHighVolt) {
      return `bus at ${volts(busVolt)}, above ${volts(limits.busHighVolt)}`
    }
    if (limits.speedRadPerSec !== null && Math.abs(speedRadPerSec) > limits.speedRadPerSec) {
      return `shaft at ${speedRadPerSec.toFixed(0)} rad/s, limit ${limits.speedRadPerSec}`
    }
    if ((boardCelsius ?? 0) > boardLimitCelsius) {
      return `bridge at ${boardCelsius} degC, limit ${boardLimitCelsius}`
    }
    this.armed = true
    this.feed(nowNs)
    return null
  }

  /** Carries out a drive command that is within the limits (P-8.3). */
  begin(nowNs: number, id: number, request: DriveRequest): void {
    const mode = request.mode === 'voltage' ? 'drive' : request.mode
    this.drive = { id, endNs: nowNs + Math.round(request.durationSec * NS), after: request.after }
    this.limitAmp = Math.min(request.currentLimitAmp, this.hardware.limits.currentAmp)
    this.change(nowNs, mode, mode === 'drive' ? request.setVolt : 0, 'drive')
  }

  stop(nowNs: number): void {
    this.end(nowNs, 'coast', 'stop')
  }

  disarm(nowNs: number): void {
    this.end(nowNs, 'coast', 'disarm')
    this.settle()
  }

  /** Ends what is due: the drive command's time, then the host's. */
  expire(nowNs: number): void {
    if (this.drive !== null && nowNs >= this.drive.endNs) {
      this.end(nowNs, this.drive.after, 'duration')
    }
    if (nowNs >= this.watchdogNs) {
      const { watchdogSec } = this.hardware.limits
      const silentSec = watchdogSec + (nowNs - this.watchdogNs) / NS
      this.trip(nowNs, 'watchdog', silentSec, watchdogSec)
    }
  }

  /** Limits that need no comparator, looked at every millisecond. */
  check(nowNs: number): void {
    if (!this.armed) return
    const { limits, busVolt, speedRadPerSec, boardCelsius, boardLimitCelsius } = this.hardware
    const speed = Math.abs(speedRadPerSec)
    const slow =
      limits.stallSec !== null &&
      this.mode === 'drive' &&
      this.setVolt !== 0 &&
      speed < (limits.stallRadPerSec ?? 0)
    this.slowSinceNs = slow ? (this.slowSinceNs ?? nowNs) : null
    this.lowSinceNs = busVolt < limits.busLowVolt ? (this.lowSinceNs ?? nowNs) : null
    const slowSec = this.slowSinceNs === null ? 0 : (nowNs - this.slowSinceNs) / NS
    if (limits.speedRadPerSec !== null && speed > limits.speedRadPerSec) {
      this.trip(nowNs, 'over-speed', speedRadPerSec, limits.speedRadPerSec)
    } else if (busVolt > limits.busHighVolt) {
      this.trip(nowNs, 'bus-high', busVolt, limits.busHighVolt)
    } else if (this.lowSinceNs !== null && nowNs - this.lowSinceNs > LOW_BUS_NS) {
      this.trip(nowNs, 'bus-low', busVolt, limits.busLowVolt)
    } else if (limits.stallSec !== null && slowSec > limits.stallSec) {
      this.trip(nowNs, 'stall', slowSec, limits.stallSec)
    } else if (boardCelsius !== null && boardCelsius > boardLimitCelsius) {
      this.trip(nowNs, 'over-temperature', boardCelsius, boardLimitCelsius)
    }
  }

  trip(nowNs: number, code: TripCause, value: number, limit: number): void {
    this.end(nowNs, 'coast', 'trip')
    this.settle()
    this.trips = Math.min(this.trips + 1, 4_294_967_295)
    this.lastTrip = code
    this.lastTripNs = nowNs
    this.emit(nowNs, { name: 'trip', code, value, limit })
  }

  private end(nowNs: number, mode: BridgeMode, by: BridgeCause): void {
    const { drive } = this
    this.drive = null
    this.change(nowNs, mode, 0, by)
    if (drive !== null) this.emit(nowNs, { name: 'drive-ended', id: drive.id, by })
  }

  private change(nowNs: number, mode: BridgeMode, setVolt: number, by: BridgeCause): void {
    if (mode === this.mode && setVolt === this.setVolt) return
    this.mode = mode
    this.setVolt = setVolt
    this.hardware.setBridge(mode, setVolt)
    this.emit(nowNs, { name: 'bridge', mode, setVolt, by })
  }

  private settle(): void {
    this.armed = false
    this.watchdogNs = Number.POSITIVE_INFINITY
    this.slowSinceNs = null
    this.lowSinceNs = null
    this.limitAmp = this.hardware.limits.currentAmp
  }
}

/** A dip this short is ridden out. */
const LOW_BUS_NS = 5e6
