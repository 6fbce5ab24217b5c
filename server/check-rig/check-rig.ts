import type { Link } from '../link/link.ts'
import { type CheckClock, CheckLine } from './check-line.ts'
import { realClock } from './real-clock.ts'
import { burstChecks } from './checks/burst.ts'
import { checkDeclarations } from './checks/declarations.ts'
import { driveChecks } from './checks/drive.ts'
import { checkIdentity } from './checks/identity.ts'
import { judgeAllLines } from './checks/passive.ts'
import { requestChecks } from './checks/requests.ts'
import { streamChecks } from './checks/stream.ts'
import { timingChecks } from './checks/timing.ts'
import { type ClauseVerdict, Judge } from './judge.ts'
import type { Check, RigUnderCheck } from './rig-under-check.ts'

export interface CheckOptions {
  /** Arms the rig and drives gentle pulses. Without it nothing is armed. */
  readonly drive: boolean
  /** Told what is being looked at. */
  readonly onProgress?: (text: string) => void
  readonly clock?: CheckClock
}

const NOT_TRIED = 'it did not come up'
const NOT_DRIVEN = 'takes driving: --drive'

/**
 * Whether the rig behind a link follows firmware-protocol.md: one verdict a clause, in the order of
 * the page. Leaves the rig disarmed and quiet; the link stays open. About fifteen seconds.
 * @throws InputFault where no rig answers; LinkLost where the link goes.
 */
export async function checkRig(link: Link, options: CheckOptions): Promise<ClauseVerdict[]> {
  const line = new CheckLine(link, options.clock ?? realClock())
  const judge = new Judge()
  const rig: RigUnderCheck = {
    line,
    judge,
    doubtful: [],
    eventDelays: [],
    identity: null,
    limits: null,
    channels: [],
    rates: [],
  }
  const step = async (text: string, checks: readonly Check[]) => {
    options.onProgress?.(text)
    for (const check of checks) await attempt(rig, judge, check)
  }
  try {
    await step('who answers', [r => checkIdentity(r, link.describe)])
    await step('what it declares', [checkDeclarations])
    await step('how it takes requests, good and bad', requestChecks())
    await step('its samples', streamChecks(rig))
    await step('its timing', timingChecks())
    await step('its burst memory', burstChecks())
    if (options.drive) await step('how it drives', driveChecks())
    rig.judge = judge
    judgeAllLines(rig)
  } finally {
    await leaveQuiet(line)
  }
  return judge.verdicts(options.drive ? NOT_TRIED : NOT_DRIVEN).map(v => reasoned(v, options.drive))
}

const ATTEMPTS = 4
/** Longer than this and what looks like a slow rig may be this computer. */
const BUSY_MS = 15
const IN_DOUBT = ' (this computer was busy meanwhile; check again when it is not)'

/** Clauses of speed: whatever stands between rig and host can only spoil them. */
const OF_SPEED = ['P-3.8', 'P-9.3', 'P-11.1', 'P-11.2']

/** Once, or again where something was found broken while this computer was too busy to tell. */
async function attempt(rig: RigUnderCheck, judge: Judge, check: Check): Promise<void> {
  for (let left = ATTEMPTS - 1; ; left--) {
    rig.judge = new Judge()
    rig.line.takeOversleptMs()
    const from = rig.line.lines.length
    await check(rig)
    const busy =
      rig.judge.broke.length > 0 &&
      (rig.line.takeOversleptMs() > BUSY_MS || rig.judge.broke.every(c => OF_SPEED.includes(c)))
    if (busy) rig.doubtful.push({ from, to: rig.line.lines.length })
    if (!busy || left === 0) {
      judge.absorb(rig.judge, busy ? IN_DOUBT : '')
      return
    }
    for (const rest of ['disarm', 'stream mode=off']) await rig.line.ask(rest)
  }
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
