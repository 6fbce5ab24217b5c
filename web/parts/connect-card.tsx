import { useState } from 'preact/hooks'
import type { BenchView } from '../../src/contract/http-bench.ts'
import { call } from '../api.ts'
import { useLoad } from '../state/load.ts'
import { Trouble, Working } from './basics.tsx'
import { Glyph } from './glyph.tsx'
import { Wiring } from './wiring.tsx'

/** No rig yet: which port, and how it is wired. */
export function ConnectCard({ view, mayDrive }: { view: BenchView; mayDrive: boolean }) {
  const { data, fault, loading, reload } = useLoad('ports', {})
  const [trouble, setTrouble] = useState<string | null>(null)
  const connect = (port: string) => {
    setTrouble(null)
    call('connect', { body: { port } }).catch(error => setTrouble(error.message))
  }
  const busy = view.state === 'connecting'
  return (
    <div class="bench-grid">
      <section class="stack" aria-label="Ports">
        <div class="row apart">
          <h2>Which rig?</h2>
          <button type="button" class="bare" onClick={reload} disabled={loading}>
            Look again
          </button>
        </div>
        {trouble && <Trouble text={trouble} />}
        {fault && <Trouble text={fault.message} />}
        {!data && !fault && <Working text="Looking for ports" />}
        {data && (
          <ul class="ports">
            {data.ports.map(port => (
              <li key={port.path}>
                <button
                  type="button"
                  disabled={!mayDrive || busy || port.trouble !== null}
                  onClick={() => connect(port.path)}
                >
                  <Glyph name={port.simulated ? 'running' : 'plug'} />
                  <span>
                    <strong>{port.label}</strong>
                    <span>
                      {port.trouble ??
                        (port.simulated
                          ? 'A simulated motor on a simulated bench: nothing turns, nothing can be hurt.'
                          : port.path)}
                    </span>
                  </span>
                </button>
              </li>
            ))}
          </ul>
        )}
        {data && !data.ports.some(port => !port.simulated) && (
          <p class="quiet">
            {data.trouble ??
              'No serial port is there. Plug the rig in, switch it on, then look again.'}
          </p>
        )}
      </section>
      <figure class="plate stack">
        <Wiring shaft="any" />
        <figcaption class="quiet small">
          Wire with the power off. The stop control on this page is no emergency stop: one that cuts
          the supply belongs within reach.
        </figcaption>
      </figure>
    </div>
  )
}
