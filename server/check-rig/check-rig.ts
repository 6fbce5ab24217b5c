import { performance } from 'node:perf_hooks'
import { setTimeout as sleep } from 'node:timers/promises'
import type { Link } from '../link/link.ts'
import { type CheckClock, CheckLine } from './check-line.ts'
import { checkBurst } from './checks/burst.ts'
import { checkDeclarations } from './checks/declarations.ts'
import { checkDriving } from './checks/drive.ts'
import { checkIdentity } from './checks/identity.ts'
import { judgeAllLines } from './checks/passive.ts'
import { checkRequests } from './checks/requests.ts'
import { checkStreams } from './checks/stream.ts'
import { checkTiming } from './checks/timing.ts'
import { type ClauseVerdict, Judge } from './judge.ts'
import type { RigUnderCheck } from './rig-under-check.ts'

export interface CheckOptions {
  /** Arms the rig and drives gentle pulses. Without it nothing is armed. */
  readonly drive: boolean
  /** Told what is being looked at. */
  readonly onProgress?: (text: string) => void
  readonly clock?: CheckClock
}

const REAL_CLOCK: CheckClock = {
  nowMs: () => performance.now(),
  sleep: async ms => {
    await sleep(ms)
  },
}

const NOT_TRIED = 'it did not come up'
const NOT_DRIVEN = 'takes driving: --drive'

/**
 * Whether the rig behind a link follows firmware-protocol.md: one verdict a clause, in the order of
 * the page. Leaves the rig disarmed and quiet; the link stays open. About fifteen seconds.
 * @throws InputFault where no rig answers; LinkLost where the link goes.
 */
export async function checkRig(link: Link, options: CheckOptions): Promise<ClauseVerdict[]> {
  const line = new CheckLine(link, options.clock ?? REAL_CLOCK)
  const judge = new Judge()
  const rig: RigUnderCheck = {
    line,
    judge,
    identity: null,
    limits: null,
    channels: [],
    rates: [],
  }
  const step = async (text: string, check: () => Promise<void>) => {
    options.onProgress?.(text)
    await check()
  }
  try {
    await step('who answers', () => checkIdentity(rig, link.describe))
    await step('what it declares', () => checkDeclarations(rig))
    await step('how it takes requests, good and bad', () => checkRequests(rig))
    await step('its samples', () => checkStreams(rig))
    await step('its timing', () => checkTiming(rig))
    await step('its burst memory', () => checkBurst(rig))
    if (options.drive) await step('how it drives', () => checkDriving(rig))
    judgeAllLines(rig)
  } finally {
    await leaveQuiet(line)
  }
  return judge.verdicts(options.drive ? NOT_TRIED : NOT_DRIVEN).map(v => reasoned(v, options.drive))
}

/** Clauses that came up by chance only, rather than for want of driving. */
const BY_CHANCE = ['P-6.7', 'P-7.6', 'P-7.7', 'P-7.8', 'P-10.1', 'P-10.4', 'P-7.2']

function reasoned(verdict: ClauseVerdict, drove: boolean): ClauseVerdict {
  const chance = verdict.verdict === 'not-seen' && BY_CHANCE.includes(verdict.clause)
  return chance && !drove ? { ...verdict, text: NOT_TRIED } : verdict
}

/** Whatever happened: bridge off, silence. A lost link needs neither. */
async function leaveQuiet(line: CheckLine): Promise<void> {
  try {
    for (const rest of ['disarm', 'stream mode=off']) await line.post(rest)
  } catch {
    // The link has gone, and the rig's watchdog with it sees to the rest.
  }
  await line.end()
}
