import type { BenchView, PortList, SequenceAct, TestBody } from '../../src/contract/http-bench.ts'
import type {
  ShortTestAct,
  ShortTestBody,
  ShortTestPlan,
  ShortTestQuery,
} from '../../src/contract/http-samples.ts'
import type { LiveEvent } from '../../src/contract/live.ts'
import type { AskStore } from './ask-store.ts'
import type { ImportDesk } from './import-desk.ts'
import type { JobDesk } from './job-desk.ts'

/** The one bench that a server drives. Nothing here waits for the disk. */
export interface BenchControl {
  view(): Omit<BenchView, 'driver'>
  /** Told of every change of the view, and of every live event. */
  listen(listener: (news: BenchNews) => void): () => void
  ports(): Promise<PortList>
  connect(port: string, baud?: number): Promise<void>
  reconnect(): Promise<void>
  disconnect(): Promise<void>
  acknowledgeCautions(): void
  /** Resolves once the test has begun. */
  startTest(test: TestBody): Promise<void>
  startSequence(motorId: number, resume: boolean): Promise<void>
  actOnSequence(act: SequenceAct): Promise<void>
  /** What the short test of a type would do on this rig; says why where it cannot be made. */
  planShortTest(query: ShortTestQuery): ShortTestPlan
  /** Begins it; the view tells how it goes on. */
  startShortTest(test: ShortTestBody): Promise<void>
  actOnShortTest(act: ShortTestAct['act']): Promise<void>
  /** Bridge off now. Resolves once the rig has acknowledged, or the link is gone. */
  stop(reason: string): Promise<void>
  close(): Promise<void>
}

export type BenchNews =
  | { readonly type: 'changed' }
  | { readonly type: 'live'; readonly event: LiveEvent }
  | { readonly type: 'told'; readonly tone: 'plain' | 'warning'; readonly text: string }

export interface HttpDeps {
  readonly bench: BenchControl
  readonly jobs: JobDesk
  readonly imports: ImportDesk
  readonly ask: AskStore
  readonly cautions: readonly { readonly title: string; readonly text: string }[]
  /** Folder of the built page. */
  readonly pageFolder: string
  readonly version: string
  readonly storeFile: string
  /** Milliseconds since 1970. */
  readonly now: () => number
  /** For the terminal of the person who started the server. */
  readonly say: (line: string) => void
}

export interface HttpOptions {
  readonly host: string
  /** 0 for any that is free. */
  readonly port: number
  /** For the view from other machines; null where `host` is loopback. */
  readonly password: string | null
}
