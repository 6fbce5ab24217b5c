import { DRIVE_GROUPS, type DriveDraft, draftOf, FIRST_DRIVE } from './drive-draft.ts'

/** What an emptied field is called in the address. */
const EMPTY = 'none'
const FIRST = draftOf(FIRST_DRIVE)
const PATHS = DRIVE_GROUPS.flatMap(group => group.fields.map(({ path }) => path))
/** What is chosen, not typed. */
const CHOSEN = {
  name: FIRST.name,
  quadrants: String(FIRST.quadrants),
  switching: FIRST.switching,
  sinksCurrent: String(FIRST.sinksCurrent),
} as const

/** What of a description is not as it is to begin with, as keys of the address; null takes a key out. */
export function addressOfDraft(draft: DriveDraft): Record<string, string | null> {
  const said: Record<string, string | null> = {}
  for (const path of PATHS) {
    const text = draft.typed[path] ?? ''
    said[path] = text === FIRST.typed[path] ? null : text === '' ? EMPTY : text
  }
  for (const [key, first] of Object.entries(CHOSEN)) {
    const text = String(draft[key as keyof typeof CHOSEN])
    said[key] = text === first ? null : text
  }
  return said
}

/** The description that an address names; null where it names none. What no form would take is left as it is to begin with. */
export function draftOfAddress(query: URLSearchParams): DriveDraft | null {
  if (![...PATHS, ...Object.keys(CHOSEN)].some(key => query.has(key))) return null
  const typed = Object.fromEntries(
    PATHS.map(path => {
      const text = query.get(path)
      return [path, text === null ? FIRST.typed[path]! : text === EMPTY ? '' : text]
    }),
  )
  const quadrants = ([1, 2, 4] as const).find(n => String(n) === query.get('quadrants'))
  const switching = (['unipolar', 'bipolar'] as const).find(how => how === query.get('switching'))
  return {
    name: query.get('name') ?? FIRST.name,
    quadrants: quadrants ?? FIRST.quadrants,
    switching: switching ?? FIRST.switching,
    sinksCurrent: query.has('sinksCurrent')
      ? query.get('sinksCurrent') === 'true'
      : FIRST.sinksCurrent,
    typed,
  }
}
