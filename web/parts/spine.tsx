import { Glyph, Mark } from './glyph.tsx'

const PLACES = [
  { path: '/bench', glyph: 'bench', text: 'Bench', key: 'b' },
  { path: '/motors', glyph: 'motors', text: 'Motors', key: 'm' },
  { path: '/samples', glyph: 'table', text: 'Samples', key: 's' },
  { path: '/import', glyph: 'import', text: 'Import', key: 'i' },
] as const

/** The places of the page, large enough for a hand in a glove. */
export function Spine({ path, onHelp }: { path: string; onHelp: () => void }) {
  const section = path.startsWith('/runs') ? '/motors' : path
  return (
    <nav class="spine" aria-label="Places">
      <a class="mark" href="/bench" aria-label="rotorfit, to the bench">
        <Mark />
        rotorfit
      </a>
      {PLACES.map(place => (
        <a
          key={place.path}
          class="place"
          href={place.path}
          aria-current={section.startsWith(place.path) ? 'page' : undefined}
          aria-keyshortcuts={`g ${place.key}`}
        >
          <Glyph name={place.glyph} />
          {place.text}
        </a>
      ))}
      <button type="button" class="place last" onClick={onHelp} aria-keyshortcuts="?">
        <Glyph name="key" />
        Keys
      </button>
    </nav>
  )
}
