import { useState } from 'preact/hooks'
import type { SessionView } from '../../src/contract/http.ts'
import { call } from '../api.ts'
import { Trouble } from '../parts/basics.tsx'
import { Mark } from '../parts/glyph.tsx'

/** From another machine: a password for a view that cannot drive. */
export function Login({ onDone }: { onDone: (session: SessionView) => void }) {
  const [password, setPassword] = useState('')
  const [fault, setFault] = useState<string | null>(null)
  const submit = (event: Event) => {
    event.preventDefault()
    call('login', { body: { password } }).then(onDone, error => setFault(error.message))
  }
  return (
    <main class="content" style={{ maxWidth: '460px', paddingTop: '12vh' }}>
      <form class="plate stack" onSubmit={submit}>
        <div style={{ width: '56px' }}>
          <Mark />
        </div>
        <h1>Look on</h1>
        <p>
          Give the password that was set where the server was started. Nothing can be driven or
          changed from here.
        </p>
        <label>
          <span class="label">Password</span>
          <input
            type="password"
            autocomplete="current-password"
            value={password}
            onInput={event => setPassword(event.currentTarget.value)}
          />
        </label>
        {fault && <Trouble text={fault} />}
        <button type="submit" class="first" disabled={password === ''}>
          Look on
        </button>
      </form>
    </main>
  )
}
