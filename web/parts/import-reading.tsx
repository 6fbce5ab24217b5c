import type { ImportChanges } from '../../src/contract/http-runs.ts'

interface ImportReadingProps {
  readonly changes: ImportChanges
  readonly busy: boolean
  onChange(changes: ImportChanges): void
}

/** What a file may leave open, for a person to say. */
export function ImportReading({ changes, busy, onChange }: ImportReadingProps) {
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
    </div>
  )
}
