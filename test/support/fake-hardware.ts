import type { BridgeMode } from '../../src/protocol/bridge.ts'
import type { ChannelDeclaration } from '../../src/protocol/channel.ts'
import type { LimitsDeclaration } from '../../src/protocol/declaration.ts'
import type { Guards, GuardStop, Hardware } from '../../src/practice-rig/rig-side/hardware.ts'

const PLAIN: Omit<ChannelDeclaration, 'index' | 'name' | 'quantity'> = {
  scale: 0.001,
  offset: 0,
  kind: 'signed',
  bits: 16,
  lowCount: -32_768,
  highCount: 32_767,
  noise: 0,
  apertureSec: 0,
  delaySec: 0,
  gainUncertainty: 0,
  zeroUncertainty: 0,
}

const CHANNELS: ChannelDeclaration[] = [
  { ...PLAIN, index: 0, name: 'volts', quantity: 'voltage' },
  { ...PLAIN, index: 1, name: 'amps', quantity: 'current' },
  {
    ...PLAIN,
    index: 2,
    name: 'encoder',
    quantity: 'position',
    kind: 'modulo',
    lowCount: 0,
    highCount: 65_535,
  },
]

export const FAKE_LIMITS: LimitsDeclaration = {
  driveVolt: 24,
  currentAmp: 12,
  busLowVolt: 7,
  busHighVolt: 30,
  speedRadPerSec: 900,
  stallSec: 1,
  stallRadPerSec: 2,
  longestDriveSec: 10,
  watchdogSec: 0.3,
  currentTripSec: 20e-6,
  commandTripSec: 100e-6,
  reversible: true,
  pwmHz: null,
  burst: { periodNs: 10_000, samples: 4096 },
}

/**
 * Hardware whose every reading a test can foretell: current follows the terminal voltage through a
 * resistance, everything else is what the test sets. Channel 2 counts samples and bursts.
 */
export class FakeHardware implements Hardware {
  identity = {
    protocolVersion: 1,
    model: 'bench of the tests',
    serialNumber: 'T-1',
    firmware: '0.1',
    simulated: true,
    baud: 0,
    clockUncertainty: 0,
  }
  limits: LimitsDeclaration = FAKE_LIMITS
  boardLimitCelsius = 100
  periodsNs: readonly number[] = [100_000, 1_000_000, 50_000_000]
  burstChannels: readonly ChannelDeclaration[] = CHANNELS.map(c => ({ ...c, noise: 0.01 }))
  timeSec = 0
  mode: BridgeMode = 'coast'
  setVolt = 0
  ohm = 2
  /** Back-EMF that a turning shaft drives through a shorted bridge. */
  emfVolt = 0
  busVolt = 24
  speedRadPerSec = 100
  boardCelsius: number | null = 25
  indexPulses: { timeSec: number; count: number }[] = []
  bridgeLog: { timeSec: number; mode: BridgeMode; setVolt: number }[] = []
  samples = 0
  bursts = 0
  zeroed = 0
  bursting = false

  channelsAt(periodNs: number): readonly ChannelDeclaration[] {
    return CHANNELS.map(c => ({ ...c, apertureSec: c.index < 2 ? periodNs / 1e9 : 0 }))
  }

  setSamplePeriod(): void {}

  setBurst(on: boolean): void {
    this.bursting = on
  }

  setBridge(mode: BridgeMode, setVolt: number): void {
    this.mode = mode
    this.setVolt = setVolt
    this.bridgeLog.push({ timeSec: this.timeSec, mode, setVolt })
  }

  get currentAmp(): number {
    if (this.mode === 'coast') return 0
    return ((this.mode === 'drive' ? this.setVolt : 0) - this.emfVolt) / this.ohm
  }

  advance(toSec: number, guards: Guards): GuardStop | null {
    if (Math.abs(this.currentAmp) > guards.currentAmp) {
      this.timeSec += 10e-6
      return { timeSec: this.timeSec, cause: 'over-current', value: this.currentAmp }
    }
    this.timeSec = toSec
    return null
  }

  sample(counts: Int32Array, at: number): void {
    counts[at] = Math.round(this.setVolt / 0.001)
    counts[at + 1] = Math.round(this.currentAmp / 0.001)
    counts[at + 2] = this.samples++ & 0xffff
  }

  sampleBurst(counts: Int32Array, at: number): void {
    this.sample(counts, at)
    this.samples--
    counts[at + 2] = this.bursts++ & 0xffff
  }

  takeIndexPulses(): { timeSec: number; count: number }[] {
    const taken = this.indexPulses
    this.indexPulses = []
    return taken
  }

  markZero(): boolean {
    this.zeroed++
    return true
  }
}
