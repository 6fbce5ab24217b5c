import type { FixtureLoad } from './test-run.ts'

/** What answered on the serial line. */
export interface RigIdentity {
  readonly model: string
  readonly serialNumber: string
  readonly firmware: string
  readonly protocolVersion: string
  readonly simulated: boolean
}

/** A rig with its supply, sensors and fixture. Calibrations belong to a bench. */
export interface Bench {
  readonly id: number
  /** Unique. */
  readonly name: string
  /** The rig that belongs to it; null where a bench only reads instruments or plain numbers. */
  readonly rigSerialNumber: string | null
  readonly supplyVolt: number | null
  readonly supplyLimitAmp: number | null
  /** Above 60 V DC the tool drives only where the bench declares it. */
  readonly declaredAbove60Volt: boolean
  readonly sensors: readonly Sensor[]
  readonly fixture: FixtureLoad | null
  readonly notes: string
  readonly createdAt: string
}

/** A sensor behind a channel: probe, shunt, encoder, torque transducer. */
export interface Sensor {
  readonly channel: string
  readonly description: string
  readonly serialNumber: string
}
