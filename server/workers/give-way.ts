import { readlinkSync } from 'node:fs'
import { setPriority } from 'node:os'

const NICE = 10

/**
 * Lets the thread that keeps the rig alive go first where there are fewer cores than work. Linux gives each
 * thread a priority of its own; elsewhere, where it would be the whole process's, nothing is changed.
 */
export function giveWay(): void {
  if (process.platform !== 'linux') return
  try {
    const thread = Number(readlinkSync('/proc/thread-self').split('/').at(-1))
    if (thread !== process.pid) setPriority(thread, NICE)
  } catch {
    // Without it the work is done all the same.
  }
}
