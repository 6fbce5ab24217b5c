import { useEffect, useRef } from 'preact/hooks'
import { go, goFocus } from '../router.ts'
import { isBusy, stopNow } from './rail.tsx'
import { bench, linked } from '../state/live.ts'

const GROUPS: readonly { title: string; keys: readonly (readonly [string, string])[] }[] = [
  {
    title: 'Everywhere',
    keys: [
      ['Esc', 'stop the motor'],
      ['g b', 'to the bench'],
      ['g m', 'to the motors'],
      ['g s', 'to the samples'],
      ['g i', 'to import'],
      ['/', 'find a motor'],
      ['?', 'these keys'],
    ],
  },
  {
    title: 'Bench',
    keys: [['Enter', 'the one next step, when it has the focus']],
  },
  {
    title: 'One run',
    keys: [
      ['+ −', 'zoom in, zoom out'],
      ['← →', 'move along'],
      ['0', 'the whole run'],
      ['a b', 'set cursor A or B where the pointer is, or in the middle'],
      ['Shift ← →', 'move the cursor that was set last'],
      ['x', 'take the cursors away'],
      ['[ ]', 'the run before, the run after'],
    ],
  },
  {
    title: 'Curves',
    keys: [['← →', 'change the slider that has the focus; with Page keys in larger steps']],
  },
]

export function KeysDialog({ open, onClose }: { open: boolean; onClose: () => void }) {
  const dialog = useRef<HTMLDialogElement>(null)
  useEffect(() => {
    const element = dialog.current
    // Not modal: the stop control stays within reach.
    if (open && element && !element.open) {
      element.show()
      element.querySelector('button')?.focus()
    }
    if (!open && element?.open) element.close()
  }, [open])
  return (
    <dialog ref={dialog} onClose={onClose} aria-labelledby="keys-title">
      <div class="stack">
        <div class="row apart">
          <h2 id="keys-title">Keys</h2>
          <button type="button" class="first" onClick={onClose}>
            Close
          </button>
        </div>
        <div class="key-groups">
          {GROUPS.map(group => (
            <section key={group.title}>
              <h3>{group.title}</h3>
              <table>
                <tbody>
                  {group.keys.map(([keys, does]) => (
                    <tr key={keys}>
                      <td style={{ width: '7.5rem' }}>
                        {keys.split(' ').map(key => (
                          <kbd key={key} style={{ marginRight: '0.4rem' }}>
                            {key}
                          </kbd>
                        ))}
                      </td>
                      <td>{does}</td>
                    </tr>
                  ))}
                </tbody>
              </table>
            </section>
          ))}
        </div>
        <p class="quiet small">
          Esc stops the motor whatever is on screen. It is a message to the rig, no emergency stop:
          keep a hard-wired one within reach.
        </p>
      </div>
    </dialog>
  )
}

/** Keys that work on every view. Escape stops first, whatever else it may close. */
export function useGlobalKeys(onHelp: () => void): void {
  useEffect(() => {
    let leader = 0
    const onKey = (event: KeyboardEvent) => {
      if (event.key === 'Escape') {
        // A page that rests does not know what the bench does.
        const connected =
          linked.get() === 'resting' || (bench.get() !== null && bench.get()?.state !== 'none')
        const dialog = document.querySelector<HTMLDialogElement>('dialog[open]')
        if (connected && (dialog === null || isBusy(bench.get()))) stopNow()
        dialog?.close()
        return
      }
      if (event.ctrlKey || event.metaKey || event.altKey || isTyping(event.target)) return
      if (event.key === '?') return onHelp()
      if (event.key === '/') {
        event.preventDefault()
        goFocus('/motors', 'find')
        return
      }
      if (event.key === 'g') {
        leader = event.timeStamp
        return
      }
      const place = { b: '/bench', m: '/motors', s: '/samples', i: '/import' }[event.key]
      if (place && leader > 0 && event.timeStamp - leader < 1500) go(place)
      leader = 0
    }
    addEventListener('keydown', onKey, { capture: true })
    return () => removeEventListener('keydown', onKey, { capture: true })
  }, [onHelp])
}

export const isTyping = (target: EventTarget | null): boolean =>
  target instanceof HTMLElement && target.matches('input, select, textarea, [contenteditable]')
