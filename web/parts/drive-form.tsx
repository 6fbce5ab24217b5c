import { useId, useState } from 'preact/hooks'
import {
  DRIVE_GROUPS,
  type DriveDraft,
  type DriveField,
  draftOf,
  type ReadDraft,
} from '../state/drive-draft.ts'
import { Trouble } from './basics.tsx'
import { Glyph } from './glyph.tsx'

const QUADRANTS = [
  [1, 'Drives one way'],
  [2, 'Drives and brakes one way'],
  [4, 'Drives and brakes both ways'],
] as const

const SWITCHING = [
  ['unipolar', 'Motor sees 0 and V'],
  ['bipolar', 'Motor sees −V and V'],
] as const

/** A drive as its designer describes it; every change counts at once. */
export function DriveForm(props: {
  draft: DriveDraft
  read: ReadDraft
  onChange: (draft: DriveDraft) => void
}) {
  const { draft, read, onChange } = props
  const id = useId()
  return (
    <form
      class="plate stack drive-form"
      aria-label="Drive"
      onSubmit={event => event.preventDefault()}
    >
      <DriveFile {...props} />
      <label>
        <span class="label">Name</span>
        <input
          value={draft.name}
          maxLength={120}
          onInput={event => onChange({ ...draft, name: event.currentTarget.value })}
        />
      </label>
      <label>
        <span class="label">What it does</span>
        <select
          value={draft.quadrants}
          onChange={event =>
            onChange({
              ...draft,
              quadrants: Number(event.currentTarget.value) as DriveDraft['quadrants'],
            })
          }
        >
          {QUADRANTS.map(([value, text]) => (
            <option key={value} value={value}>
              {text}
            </option>
          ))}
        </select>
      </label>
      {DRIVE_GROUPS.map(({ title, fields }) => (
        <fieldset key={title}>
          <legend>{title}</legend>
          <div class="drive-fields">
            {fields.map(field => (
              <NumberField
                key={field.path}
                id={`${id}-${field.path}`}
                field={field}
                typed={draft.typed[field.path] ?? ''}
                fault={read.faults[field.path] ?? null}
                onType={text =>
                  onChange({ ...draft, typed: { ...draft.typed, [field.path]: text } })
                }
              />
            ))}
            {title === 'Bridge' && (
              <label class="wide">
                <span class="label">Switching</span>
                <select
                  value={draft.switching}
                  onChange={event =>
                    onChange({
                      ...draft,
                      switching: event.currentTarget.value as DriveDraft['switching'],
                    })
                  }
                >
                  {SWITCHING.map(([value, text]) => (
                    <option key={value} value={value}>
                      {text}
                    </option>
                  ))}
                </select>
              </label>
            )}
            {title === 'Supply' && (
              <label class="wide tick">
                <input
                  type="checkbox"
                  checked={draft.sinksCurrent}
                  onChange={event =>
                    onChange({ ...draft, sinksCurrent: event.currentTarget.checked })
                  }
                />
                Takes braking energy back
              </label>
            )}
          </div>
        </fieldset>
      ))}
    </form>
  )
}

function NumberField(props: {
  id: string
  field: DriveField
  typed: string
  fault: string | null
  onType: (text: string) => void
}) {
  const { id, field, typed, fault } = props
  return (
    <div>
      <label class="label" for={id}>
        {field.label}, {field.unit}
      </label>
      <input
        id={id}
        inputMode="decimal"
        autocomplete="off"
        value={typed}
        placeholder={field.optional ? 'none' : ''}
        aria-invalid={fault !== null}
        aria-describedby={fault === null ? undefined : `${id}-fault`}
        onInput={event => props.onType(event.currentTarget.value)}
      />
      {fault !== null && (
        <p class="field-fault" id={`${id}-fault`} role="alert">
          {fault}
        </p>
      )}
    </div>
  )
}

/** The same file that `rotorfit withstand --drive` reads. */
function DriveFile({ read, onChange }: { read: ReadDraft; onChange: (draft: DriveDraft) => void }) {
  const [fault, setFault] = useState<string | null>(null)
  const open = async (file: File) => {
    setFault(null)
    const { parseDrive } = await import('../../src/contract/drive-document.ts')
    try {
      const drive = parseDrive(JSON.parse(await file.text()))
      if (drive.ok) onChange(draftOf(drive.value))
      else setFault(`${file.name}: ${drive.error}`)
    } catch {
      setFault(`${file.name} is not JSON; open a drive file, such as one kept here.`)
    }
  }
  const keep = () => {
    if (!read.drive) return
    const text = `${JSON.stringify(read.drive, null, 2)}\n`
    const address = URL.createObjectURL(new Blob([text], { type: 'application/json' }))
    const link = document.createElement('a')
    link.href = address
    link.download = `${read.drive.name.replaceAll(/[^\p{L}\p{N}]+/gu, '-')}.json`
    link.click()
    URL.revokeObjectURL(address)
  }
  return (
    <>
      <div class="row">
        <label class="button file-button">
          <Glyph name="into" width="20" /> Open a drive file
          <input
            type="file"
            accept=".json,application/json"
            onChange={event => {
              const file = event.currentTarget.files?.[0]
              if (file) open(file)
              event.currentTarget.value = ''
            }}
          />
        </label>
        <button type="button" onClick={keep} disabled={read.drive === null}>
          <Glyph name="save" width="20" /> Keep as a file
        </button>
      </div>
      {fault && <Trouble text={fault} />}
    </>
  )
}
