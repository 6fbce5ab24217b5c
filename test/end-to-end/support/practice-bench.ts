import { servePage, type ServedPage } from '../../../server/http/serve-page.ts'
import { loadPracticeMotor } from '../../../server/rig-host/motor-file.ts'
import { type PracticeRig, startPracticeRig } from '../../../server/rig-host/start-practice-rig.ts'
import { openStore } from '../../../server/store/open-store.ts'
import type { Store } from '../../../server/store/store.ts'
import { storeFolder } from '../../http/support/practice-store.ts'
import { buildPage } from './page-build.ts'

/** The whole program as `serve` puts it together, with a hand on the practice rig. */
export interface PracticeBench {
  readonly served: ServedPage
  readonly origin: string
  readonly store: Store
  /** The rig behind the port `practice`; a new one for each connection. */
  rig(): PracticeRig
  /** Which port was opened last, and at which rate. */
  asked(): { port: string; baud?: number } | null
  close(): Promise<void>
}

export async function openPracticeBench(): Promise<PracticeBench> {
  const folder = storeFolder()
  const page = await buildPage()
  const store = openStore(folder.file, { now: Date.now })
  let rig: PracticeRig | null = null
  let asked: { port: string; baud?: number } | null = null
  const served = await servePage({
    store,
    host: '127.0.0.1',
    port: 0,
    password: null,
    knownPort: null,
    pageFolder: page.folder,
    async openWay(choice) {
      asked = choice
      const made = await startPracticeRig({
        via: 'in-process',
        motor: await loadPracticeMotor(null),
        seed: 3,
        linkPath: null,
      })
      rig = made
      return { open: () => made.open(), hands: made, close: () => made.close() }
    },
    now: Date.now,
    say: () => {},
  })
  return {
    served,
    origin: `http://127.0.0.1:${served.port}`,
    store,
    rig() {
      if (!rig) throw new Error('nothing was connected yet')
      return rig
    },
    asked: () => asked,
    async close() {
      await served.close()
      store.close()
      page.remove()
      folder.remove()
    },
  }
}
