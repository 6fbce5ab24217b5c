import type { BenchView } from '../../src/contract/http-bench.ts'
import { call } from '../api.ts'
import { KIND_WORDS, sentence, span } from '../display.ts'
import { bench, linked, tell } from '../state/live.ts'
import { useCell } from '../state/cell.ts'
import { Glyph } from './glyph.tsx'

/** Stop never asks and never waits for anything else; the server repeats it until the rig has heard. */
export function stopNow(): void {
  call('stop').catch(fault =>
    tell(`Stop could not be sent: ${fault.message} Cut the supply.`, 'bad'),
  )
}

/** At the foot of every view: how the link stands, what the rig does, and the stop control. */
export function Rail() {
  const view = useCell(bench)
  const stream = useCell(linked)
  const { title, text, lamp } = describe(view, stream)
  const busy = isBusy(view)
  const progress =
    view?.sequence && view.sequence.phase !== 'finished' ? view.sequence.progress : null
  return (
    <footer class="rail">
      {progress !== null && (
        <div class="progress-line" aria-hidden="true">
          <i style={{ transform: `scaleX(${progress})` }} />
        </div>
      )}
      <div class="state" role="status">
        <Lamp lamp={lamp} />
        <div class="words">
          <strong>{title}</strong>
          <span>{sentence(text)}</span>
        </div>
      </div>
      <button
        type="button"
        class="stop"
        data-idle={busy ? 'false' : 'true'}
        onClick={stopNow}
        aria-keyshortcuts="Escape"
      >
        <svg viewBox="0 0 24 24" aria-hidden="true">
          <path d="M3 3h18v18H3z" fill="currentColor" />
        </svg>
        Stop <kbd>Esc</kbd>
      </button>
    </footer>
  )
}

/** Something turns, is about to, or is held under current. */
export const isBusy = (view: BenchView | null): boolean =>
  view !== null &&
  (view.running !== null ||
    view.shortTest?.phase === 'testing' ||
    (view.sequence !== null && ['testing', 'making-safe'].includes(view.sequence.phase)))

type LampState = 'off' | 'ready' | 'driving' | 'trouble'

function describe(
  view: BenchView | null,
  stream: 'opening' | 'open' | 'broken' | 'resting',
): { title: string; text: string; lamp: LampState } {
  if (stream === 'broken') {
    return {
      title: 'No word from the server',
      text: 'The motor is stopped by the server and by the rig itself. This page tries again every second.',
      lamp: 'trouble',
    }
  }
  if (stream === 'resting') {
    return {
      title: 'This page rests',
      text: 'Many pages of rotorfit are open; a click wakes this one. Stop works all the same.',
      lamp: 'off',
    }
  }
  if (view === null) return { title: 'Opening', text: '', lamp: 'off' }
  if (view.running) {
    const { kind, motor, durationSec } = view.running
    const step = view.sequence?.steps.find(one => one.id === view.sequence?.current)
    return {
      title: `${step?.title ?? KIND_WORDS[kind]} of ${motor}`,
      text: durationSec === null ? 'Logging' : `Logging, ${span(durationSec)} as planned`,
      lamp: 'driving',
    }
  }
  const lamps = {
    none: 'off',
    connecting: 'off',
    ready: 'ready',
    running: 'driving',
    lost: 'trouble',
  }
  const titles = {
    none: 'No rig connected',
    connecting: 'Connecting',
    ready: view.rig?.simulated ? 'Practice rig ready' : `${view.rig?.model ?? 'Rig'} ready`,
    running: 'Driving',
    lost: 'Link lost',
  }
  return { title: titles[view.state], text: view.text, lamp: lamps[view.state] as LampState }
}

/** Shape and fill tell the states apart, not only the colour. */
function Lamp({ lamp }: { lamp: LampState }) {
  if (lamp === 'driving')
    return <Glyph name="running" class="lamp" style={{ color: 'var(--speed)' }} />
  if (lamp === 'trouble') return <Glyph name="warn" class="lamp" style={{ color: 'var(--bad)' }} />
  return (
    <svg class="lamp" viewBox="0 0 24 24" aria-hidden="true">
      <circle
        cx="12"
        cy="12"
        r="8"
        fill={lamp === 'ready' ? 'var(--good)' : 'none'}
        stroke={lamp === 'ready' ? 'var(--good)' : 'var(--edge-strong)'}
        stroke-width="3"
      />
    </svg>
  )
}
