import { existsSync, readdirSync, readFileSync } from 'node:fs'

/** One measurement, beside what it is measured against on the same computer at the same time. */
export interface SpeedRow {
  readonly what: string
  readonly value: number
  readonly unit: string
  /** The baseline by name; `ratio` is the value divided by it. */
  readonly against: string
  readonly ratio: number
  /** What is asked of the ratio; left out where the row only tells. */
  readonly goal?: { readonly least: number } | { readonly most: number }
}

/** What `<name>.speed.ts` exports as `measure`: one section of the benchmark, the same for the same seed. */
export type Measure = (seed: number) => Promise<readonly SpeedRow[]>

export function meetsGoal({ ratio, goal }: SpeedRow): boolean {
  if (!goal) return true
  return 'least' in goal ? ratio >= goal.least : ratio <= goal.most
}

export interface Spent {
  readonly elapsedSec: number
  /** Processor time of all threads of this process together. */
  readonly processorSec: number
  /**
   * Processor time of the busiest thread: what would have elapsed on a computer that has a core for each
   * and nothing else to do. Where the system does not tell (Linux does), what elapsed.
   */
  readonly busiestSec: number
}

export async function spentOn(work: () => unknown): Promise<Spent> {
  const [start, before, threads] = [performance.now(), process.cpuUsage(), threadSeconds()]
  await work()
  const { user, system } = process.cpuUsage(before)
  const elapsedSec = (performance.now() - start) / 1000
  const busy = [...threadSeconds()].map(([thread, sec]) => sec - (threads.get(thread) ?? 0))
  return {
    elapsedSec,
    processorSec: (user + system) / 1e6,
    busiestSec: busy.length > 0 ? Math.max(...busy) : elapsedSec,
  }
}

/** Processor time of each thread so far, from the first figure of `schedstat`: nanoseconds on a processor. */
function threadSeconds(): Map<string, number> {
  const folder = '/proc/self/task'
  if (!existsSync(folder)) return new Map()
  return new Map(
    readdirSync(folder).map(thread => {
      const [nanoseconds] = readFileSync(`${folder}/${thread}/schedstat`, 'utf8').split(' ')
      return [thread, Number(nanoseconds) / 1e9]
    }),
  )
}
