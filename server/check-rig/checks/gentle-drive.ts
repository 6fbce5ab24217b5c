import { ask, type RigUnderCheck, type SeenEvent, statusOf } from '../rig-under-check.ts'

/** Share of the bus voltage that is called gentle. */
const GENTLE_SHARE = 0.1
export interface GentleDrive {
  readonly milliVolt: number
  readonly milliAmp: number
}

export async function planGentle(rig: RigUnderCheck): Promise<GentleDrive | null> {
  const status = await statusOf(rig)
  if (!status || !rig.limits) return null
  const { driveVolt, currentAmp } = rig.limits
  return {
    milliVolt: Math.round(1000 * Math.min(driveVolt, GENTLE_SHARE * status.busVolt)),
    milliAmp: Math.round(1000 * currentAmp),
  }
}

export const driveText = ({ milliVolt, milliAmp }: GentleDrive, ms: number, after = 'coast') =>
  `drive mode=voltage voltage-mv=${milliVolt} duration-ms=${ms} current-ma=${milliAmp} after=${after}`

/** Waits, and keeps the watchdog fed. */
export async function pauseAlive(rig: RigUnderCheck, ms: number): Promise<void> {
  for (let left = ms; left > 0; left -= 100) {
    await ask(rig, 'alive')
    await rig.line.pause(Math.min(100, left))
  }
}

/** A limit that was in the way explains what else is missing; it is said, not held against the rig. */
export function tripped(rig: RigUnderCheck, events: readonly SeenEvent[]): boolean {
  const trip = events.find(e => e.event.name === 'trip')
  if (trip) rig.judge.kept('P-7.5')
  return trip !== undefined
}
