import { setTimeout as pause } from 'node:timers/promises'

/** A pause that ends early, without complaint, when the signal aborts. */
export async function pauseUntil(ms: number, signal: AbortSignal): Promise<void> {
  await pause(Math.max(0, ms), undefined, { signal }).catch(() => {})
}
