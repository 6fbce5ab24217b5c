import type { JSX } from 'preact'

/** The page's own marks, drawn on a 24-unit square with one stroke width. */
const PATHS: Readonly<Record<string, string>> = {
  bench: 'M3 18h18M5 18v3M19 18v3M6 14h8v4H6zM14 16h4M18 13v5M8 14v-3h4v3',
  motors: 'M4 7h12v10H4zM16 10h3v4h-3zM19 12h3M7 7V5M13 7V5M7 17v2M13 17v2',
  import: 'M12 3v11M7.5 9.5L12 14l4.5-4.5M4 17v3.5h16V17',
  help: 'M8.5 9a3.5 3.5 0 1 1 5 3.2c-1 .5-1.5 1.1-1.5 2.3M12 18.2v.3',
  check: 'M4.5 12.5l5 5 10-11',
  square: 'M6 6h12v12H6z',
  bolt: 'M13 2.5L5.5 13.5h5l-1 8 8-11.5h-5.3z',
  broken: 'M3 12h5l2-4M21 12h-5l-2 4M11 17l2-10',
  into: 'M12 3v10M8 9.5l4 4 4-4M5 19h14',
  running: 'M3 12h3l2.5-6 4 13 3-9 1.5 2h4',
  warn: 'M12 3.5L22 20.5H2zM12 10v5M12 17.6v.4',
  trash: 'M5 7h14M10 4h4M7 7l1 13h8l1-13M10.5 11v5.5M13.5 11v5.5',
  pen: 'M4 20l1-4.5L16.5 4 20 7.5 8.5 19zM14 6.5l3.5 3.5',
  plus: 'M12 5v14M5 12h14',
  minus: 'M5 12h14',
  left: 'M14.5 5.5L8 12l6.5 6.5',
  right: 'M9.5 5.5L16 12l-6.5 6.5',
  whole: 'M3 12h18M6.5 8L3 12l3.5 4M17.5 8l3.5 4-3.5 4',
  save: 'M5 4h11l3 3v13H5zM8 4v5h7V4M8 20v-6h8v6',
  lock: 'M6 11h12v9H6zM8.5 11V8a3.5 3.5 0 0 1 7 0v3',
  eye: 'M2.5 12S6 5.5 12 5.5 21.5 12 21.5 12 18 18.5 12 18.5 2.5 12 2.5 12zM12 9a3 3 0 1 1 0 6 3 3 0 0 1 0-6z',
  hand: 'M8 12V5.5a1.5 1.5 0 0 1 3 0V11M11 10.5V4.5a1.5 1.5 0 0 1 3 0V11M14 11V6a1.5 1.5 0 0 1 3 0v8c0 4-2 6.5-5.5 6.5S6.5 18.5 5 15.5l-1.3-2.6a1.4 1.4 0 0 1 2.4-1.4L8 14',
  plug: 'M9 3v5M15 3v5M6.5 8h11v4a5.5 5.5 0 0 1-11 0zM12 17.5V22',
  zero: 'M3 13h3l1-1 1 2 1.5-2.5L11 14l1.5-2 1 1.5L15 12l1.5 2 1-1H21',
  'locked-rotor': 'M12 7a5 5 0 1 1 0 10 5 5 0 0 1 0-10zM12 12l3.5-3.5M3 9h4v6H3zM17 9h4v6h-4z',
  'free-run': 'M12 5a7 7 0 1 1-6.5 4.4M5 4.5v5h5M12 10.5a1.5 1.5 0 1 1 0 3 1.5 1.5 0 0 1 0-3z',
  'run-up': 'M3 19c5 0 5-13 12-13h6M17 3l4 3-4 3',
  'coast-down': 'M3 5h4c6 0 7 13 14 13M17.5 15l3.5 3-3.5 3',
  'back-driven': 'M3 9h7v6H3zM14 9h7v6h-7zM10 12h4M6 6c0-2 3-3 6-3s6 1 6 3',
  load: 'M12 3v6M9 9h6l3 11H6zM10 14h4',
  heating: 'M10 14V5a2 2 0 1 1 4 0v9a4 4 0 1 1-4 0zM12 9v8M17 6h3M17 10h3',
  mixed: 'M3 17h3V9h4v5h4V6h4v11h3',
  curves: 'M4 4v16h16M6 6c2 9 6 12 13 12M6 18C9 8 14 7 19 8',
  sheet: 'M6 3h9l4 4v14H6zM15 3v4h4M9 12h7M9 16h7',
  table: 'M4 5h16v14H4zM4 10h16M4 14.5h16M10 5v14',
  key: 'M4 6h16v12H4zM7 10h.5M11 10h.5M15 10h.5M7.5 14.5h9',
}

export function Glyph({ name, ...rest }: { name: string } & JSX.IntrinsicElements['svg']) {
  return (
    <svg
      viewBox="0 0 24 24"
      fill="none"
      stroke="currentColor"
      stroke-width="1.9"
      stroke-linecap="round"
      stroke-linejoin="round"
      aria-hidden="true"
      {...rest}
    >
      <path d={PATHS[name] ?? ''} />
    </svg>
  )
}

/** A commutator between its brushes. */
export function Mark() {
  return (
    <svg viewBox="0 0 44 44" aria-hidden="true">
      <g fill="none" stroke="var(--act)" stroke-width="6">
        <path d="M22 9.5a12.5 12.5 0 0 1 10.4 5.6" />
        <path d="M34.4 20a12.5 12.5 0 0 1-4.6 12" />
        <path d="M24.5 34.2a12.5 12.5 0 0 1-12.7-4.8" />
        <path d="M9.5 22a12.5 12.5 0 0 1 7.3-11.4" />
      </g>
      <path d="M1 22h7M36 22h7" stroke="var(--current)" stroke-width="7" />
    </svg>
  )
}
