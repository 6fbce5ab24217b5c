import { sentence } from '../display.ts'
import { told } from '../state/live.ts'
import { useCell } from '../state/cell.ts'
import { undo } from '../state/undo.ts'

/** Words that pass by, and the way back after a deletion. */
export function Notices() {
  const words = useCell(told)
  const way = useCell(undo)
  return (
    <div class="notices" aria-live="polite">
      {words.map(word => (
        <div class="notice" key={word.id} data-tone={word.tone}>
          <p>{sentence(word.text)}</p>
          <button
            type="button"
            class="bare"
            onClick={() => told.set(told.get().filter(one => one.id !== word.id))}
          >
            Close
          </button>
        </div>
      ))}
      {way && (
        <div class="notice">
          <p>{way.text}</p>
          <button type="button" onClick={way.back}>
            Undo
          </button>
        </div>
      )}
    </div>
  )
}
