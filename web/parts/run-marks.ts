import type uPlot from 'uplot'
import type { PhaseView } from '../../src/contract/http-runs.ts'
import { AXIS_FONT, colour } from './chart.tsx'

/** What lies under and over the curves of a run. Positions are in canvas pixels. */

const GROUND: Readonly<Partial<Record<PhaseView['state'], string>>> = {
  drive: '--phase-drive',
  brake: '--phase-brake',
}

/** What the bridge did, as a tint behind the curves. */
export function drawPhases(plot: uPlot, phases: readonly PhaseView[], named: boolean): void {
  for (const phase of phases) {
    const token = GROUND[phase.state]
    if (token) fillSpan(plot, phase.fromSec, phase.toSec, colour(token))
    if (named) writeName(plot, phase)
  }
}

/** The name of a phase at its head, where it is wide enough to hold it. */
function writeName(plot: uPlot, phase: PhaseView): void {
  const { ctx, bbox } = plot
  const left = Math.max(bbox.left, plot.valToPos(phase.fromSec, 'x', true))
  const right = Math.min(bbox.left + bbox.width, plot.valToPos(phase.toSec, 'x', true))
  ctx.save()
  ctx.font = AXIS_FONT.replace('13px', `${Math.round(11 * devicePixelRatio)}px`)
  if (ctx.measureText(phase.state).width + 8 < right - left) {
    ctx.fillStyle = colour('--quiet')
    ctx.textBaseline = 'top'
    ctx.textAlign = 'left'
    ctx.fillText(phase.state, left + 4, bbox.top + 3)
  }
  ctx.restore()
}

/** Samples taken out by hand: hatched, so that it shows without colour. */
export function drawExcluded(
  plot: uPlot,
  excluded: readonly { fromSec: number; toSec: number }[],
): void {
  const { ctx, bbox } = plot
  for (const range of excluded) {
    const left = Math.max(bbox.left, plot.valToPos(range.fromSec, 'x', true))
    const right = Math.min(bbox.left + bbox.width, plot.valToPos(range.toSec, 'x', true))
    if (!(right > left)) continue
    ctx.save()
    ctx.beginPath()
    ctx.rect(left, bbox.top, right - left, bbox.height)
    ctx.clip()
    ctx.strokeStyle = colour('--edge-strong')
    ctx.lineWidth = 1.5
    ctx.beginPath()
    for (let x = left - bbox.height; x < right; x += 12) {
      ctx.moveTo(x, bbox.top + bbox.height)
      ctx.lineTo(x + bbox.height, bbox.top)
    }
    ctx.stroke()
    ctx.restore()
  }
}

export function drawCursors(
  plot: uPlot,
  cursors: { readonly a: number | null; readonly b: number | null },
): void {
  const { ctx, bbox } = plot
  for (const [name, at] of Object.entries(cursors)) {
    if (at === null) continue
    const x = Math.round(plot.valToPos(at, 'x', true))
    if (x < bbox.left || x > bbox.left + bbox.width) continue
    ctx.save()
    ctx.strokeStyle = colour('--act')
    ctx.fillStyle = colour('--act')
    ctx.lineWidth = 2
    ctx.setLineDash(name === 'a' ? [] : [8, 5])
    ctx.beginPath()
    ctx.moveTo(x, bbox.top)
    ctx.lineTo(x, bbox.top + bbox.height)
    ctx.stroke()
    ctx.font = `bold ${AXIS_FONT}`
    ctx.textBaseline = 'top'
    ctx.textAlign = 'left'
    ctx.fillText(name.toUpperCase(), x + 5, bbox.top + 3)
    ctx.restore()
  }
}

function fillSpan(plot: uPlot, from: number, to: number, fill: string): void {
  const { ctx, bbox } = plot
  const left = Math.max(bbox.left, plot.valToPos(from, 'x', true))
  const right = Math.min(bbox.left + bbox.width, plot.valToPos(to, 'x', true))
  if (!(right > left)) return
  ctx.save()
  ctx.fillStyle = fill
  ctx.fillRect(left, bbox.top, right - left, bbox.height)
  ctx.restore()
}
