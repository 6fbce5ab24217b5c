import type { ImportChanges } from '../../src/contract/http-runs.ts'
import { NUMBER_PATTERN, typedNumber } from '../typed-number.ts'

interface ImportReadingProps {
  readonly changes: ImportChanges
  /** A column holds the time: no interval is asked for. */
  readonly hasTime: boolean
  readonly busy: boolean
  onChange(changes: ImportChanges): void
}

/** What a file may leave open, for a person to say. */
export function ImportReading({ changes, hasTime, busy, onChange }: ImportReadingProps) {
  return (
    <div class="row" style={{ alignItems: 'flex-end' }}>
      <label>
        <span class="label">Decimal sign</span>
        <select
          disabled={busy}
          value={changes.decimal ?? ''}
          onChange={event =>
            onChange({
              ...changes,
              decimal: (event.currentTarget.value || null) as ImportChanges['decimal'],
            })
          }
        >
          <option value="">as the file tells</option>
          <option value="comma">comma: 1,5</option>
          <option value="point">point: 1.5</option>
        </select>
      </label>
      {(!hasTime || changes.intervalSec) && (
        <label>
          <span class="label">Seconds from row to row</span>
          <input
            inputMode="decimal"
            pattern={NUMBER_PATTERN}
            title="Where no column holds the time: how far apart the rows were sampled; nothing for steady readings"
            placeholder="as the file tells"
            disabled={busy}
            defaultValue={changes.intervalSec ? String(changes.intervalSec) : ''}
            onChange={event => {
              const sec = typedNumber(event.currentTarget.value)
              onChange({ ...changes, intervalSec: sec > 0 ? sec : null })
            }}
          />
        </label>
      )}
    </div>
  )
}
