import type { ViewProps } from '../app.tsx'
import { usePageTitle } from '../state/title.ts'

export function Bench(_props: ViewProps) {
  usePageTitle('Bench')
  return <h1>Bench</h1>
}
