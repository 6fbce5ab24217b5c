export interface PwmPhase {
  on: boolean
  untilSec: number
}

/** Whether a centred pulse of `duty` is on just after `timeSec`, and until when that holds. */
export function findPwmPhase(
  timeSec: number,
  periodSec: number,
  duty: number,
  into: PwmPhase,
): PwmPhase {
  const start = Math.floor((timeSec + SOON_SEC) / periodSec) * periodSec
  const rise = start + (periodSec * (1 - duty)) / 2
  const fall = start + (periodSec * (1 + duty)) / 2
  const soon = timeSec + SOON_SEC
  into.on = duty > 0 && soon >= rise && soon < fall
  into.untilSec = into.on ? fall : duty > 0 && soon < rise ? rise : start + periodSec
  return into
}

/** Edges nearer than this count as reached. */
const SOON_SEC = 1e-10
