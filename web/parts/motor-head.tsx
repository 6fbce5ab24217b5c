import type { MotorView } from '../../src/contract/http-motors.ts'

const TABS = [
  { path: '', text: 'Runs' },
  { path: '/parameters', text: 'Parameters' },
  { path: '/curves', text: 'Curves' },
  { path: '/drive', text: 'Drive' },
  { path: '/sheet', text: 'Sheet' },
] as const

/** Name and places of one motor, the same on each of its views. */
export function MotorHead({
  motor,
  tab,
}: {
  motor: MotorView
  tab: (typeof TABS)[number]['text']
}) {
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
            href={`/motors/${motor.id}${one.path}`}
            aria-current={one.text === tab ? 'page' : undefined}
          >
            {one.text}
          </a>
        ))}
      </nav>
    </>
  )
}
