import { useMemo } from 'preact/hooks'
import type { Drawing, Ink } from '../../src/output/drawing.ts'
import { drawingToSvg, type SvgDress } from '../../src/output/drawing-svg.ts'

const INKS: Readonly<Record<Ink, string>> = {
  ink: 'var(--ink)',
  quiet: 'var(--quiet)',
  edge: 'var(--grid)',
  faint: 'var(--sunk)',
  paper: 'var(--plate)',
  act: 'var(--act)',
  voltage: 'var(--voltage)',
  current: 'var(--current)',
  speed: 'var(--speed)',
  torque: 'var(--torque)',
  warn: 'var(--warn)',
}

const ON_SCREEN: SvgDress = { inks: INKS, face: 'var(--face)' }

/** A drawing of the output part in the colours of the scheme on screen. */
export function Picture({ drawing, label }: { drawing: Drawing; label: string }) {
  const svg = useMemo(() => drawingToSvg(drawing, label, ON_SCREEN), [drawing, label])
  // Made by drawingToSvg, which escapes every text.
  return (
    <div class="picture" role="img" aria-label={label} dangerouslySetInnerHTML={{ __html: svg }} />
  )
}
