import { readFileSync, readlinkSync } from 'node:fs'
import { hostname } from 'node:os'

/** Which process writes a run: enough to tell later whether it still lives. */
export interface ProcessIdentity {
  /** Where its number means something: host, boot and process namespace. */
  readonly place: string
  readonly processId: number
  /** When it started, on the system's own clock; null where the system does not tell. */
  readonly processStart: string | null
}

/** A writer that cannot be looked up is taken for dead when it has not been heard of for so long. */
export const SILENT_AFTER_MS = 60_000

export function ownIdentity(): ProcessIdentity {
  return { place: place(), processId: process.pid, processStart: startOf(process.pid) }
}

export function isAlive(writer: ProcessIdentity, beatMs: number, nowMs: number): boolean {
  const heardOf = nowMs - beatMs < SILENT_AFTER_MS
  if (writer.place !== place()) return heardOf
  if (!exists(writer.processId)) return false
  // Numbers are given again: only the start tells the process from its successor.
  return writer.processStart === null ? heardOf : startOf(writer.processId) === writer.processStart
}

function place(): string {
  return [hostname(), quietly(bootId) ?? '', quietly(namespace) ?? ''].join('/')
}

const bootId = () => readFileSync('/proc/sys/kernel/random/boot_id', 'utf8').trim()
const namespace = () => readlinkSync('/proc/self/ns/pid')

/** Clock ticks from boot to start, from /proc (proc(5), stat field 22); null for a zombie, which writes no more. */
function startOf(processId: number): string | null {
  const stat = quietly(() => readFileSync(`/proc/${processId}/stat`, 'utf8'))
  // The second field is the program's name in parentheses, which may hold anything.
  const fields = stat?.slice(stat.lastIndexOf(')') + 2).split(' ')
  if (!fields || fields[0] === 'Z' || fields[0] === 'X') return null
  return fields[19] ?? null
}

function exists(processId: number): boolean {
  try {
    process.kill(processId, 0)
    return true
  } catch (error) {
    // It is there, but another user's.
    return (error as NodeJS.ErrnoException).code === 'EPERM'
  }
}

function quietly<T>(read: () => T): T | null {
  try {
    return read()
  } catch {
    return null
  }
}
