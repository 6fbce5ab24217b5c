import type { MotorView } from '../../src/contract/http-motors.ts'
import { usePlace } from '../router.ts'

const TABS = [
  { path: '', text: 'Runs' },
  { path: '/parameters', text: 'Parameters' },
  { path: '/curves', text: 'Curves' },
  { path: '/drive', text: 'Drive' },
  { path: '/heat', text: 'Heat' },
  { path: '/recognise', text: 'What it is' },
  { path: '/sheet', text: 'Sheet' },
] as const

/** These follow from the runs. */
const WITHOUT_FIT: ReadonlySet<string> = new Set(['', '/heat', '/recognise'])

/** Name and places of one motor, the same on each of its views. */
export function MotorHead({
  motor,
  tab,
}: {
  motor: MotorView
  tab: (typeof TABS)[number]['text']
}) {
  // A fit that was chosen is followed from view to view; runs have none.
  const fit = usePlace().query.get('fit')
  const query = (path: string) => (fit === null || WITHOUT_FIT.has(path) ? '' : `?fit=${fit}`)
  return (
    <>
      <header class="head" style={{ marginBottom: '10px' }}>
        <div>
          <p class="crumb">
            <a href="/motors">Motors</a>
          </p>
          <h1>{motor.name}</h1>
        </div>
      </header>
      <nav class="tabs" aria-label={`Views of ${motor.name}`}>
        {TABS.map(one => (
          <a
            key={one.path}
            href={`/motors/${motor.id}${one.path}${query(one.path)}`}
            aria-current={one.text === tab ? 'page' : undefined}
          >
            {one.text}
          </a>
        ))}
      </nav>
      {fit !== null && tab !== 'Parameters' && (
        <p class="quiet small not-printed" style={{ marginBottom: '14px' }}>
          Shown by fit {fit}. <a href={location.pathname}>The newest instead</a>
        </p>
      )}
    </>
  )
}
