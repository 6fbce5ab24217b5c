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
  const connect = (port: string, baud?: number) => {
    setTrouble(null)
    call('connect', { body: { port, baud } }).catch(error => setTrouble(error.message))
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
        {data && (
          <TypedPort
            isOpen={data.trouble !== null}
            disabled={!mayDrive || busy}
            onConnect={connect}
          />
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

/** A port that the system does not list, or one that speaks at another rate. */
function TypedPort(props: {
  isOpen: boolean
  disabled: boolean
  onConnect: (port: string, baud?: number) => void
}) {
  const [path, setPath] = useState('')
  const [baud, setBaud] = useState('')
  const submit = (event: Event) => {
    event.preventDefault()
    props.onConnect(path.trim(), baud.trim() === '' ? undefined : Number(baud))
  }
  return (
    <details class="plate" open={props.isOpen}>
      <summary style={{ cursor: 'pointer', minHeight: '32px', fontWeight: 650 }}>
        A port by its path, or at another rate
      </summary>
      <form class="row" style={{ marginTop: '14px', alignItems: 'flex-end' }} onSubmit={submit}>
        <label style={{ flex: '2 1 180px' }}>
          <span class="label">Path of the port</span>
          <input
            required
            maxLength={260}
            placeholder="/dev/ttyACM0, COM3"
            value={path}
            onInput={event => setPath(event.currentTarget.value)}
          />
        </label>
        <label style={{ flex: '1 1 120px' }}>
          <span class="label">Rate, baud</span>
          <input
            inputMode="numeric"
            pattern="[0-9]{4,8}"
            title="From 1200 to 12000000; 115200 where nothing is said"
            placeholder="115200"
            value={baud}
            onInput={event => setBaud(event.currentTarget.value)}
          />
        </label>
        <button type="submit" disabled={props.disabled || path.trim() === ''}>
          Connect
        </button>
      </form>
    </details>
  )
}
