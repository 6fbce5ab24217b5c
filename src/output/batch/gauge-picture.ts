import { shareText } from '../../base/quantity-text.ts'
import type { GaugeStudy } from '../../quality/gauge-study.ts'
import { areaMark, boxPoints, type Drawing, type Mark, textMark } from '../drawing.ts'

const ROW = 16
const LABEL_WIDTH = 150

/** Standard deviations by source, as shares of the total. */
export function gaugePicture(study: GaugeStudy, width: number): Drawing {
  const rows = [
    ['repeatability', study.repeatability],
    ['reproducibility', study.reproducibility],
    ['bench and operators together', study.gauge],
    ['motors', study.parts],
  ] as const
  const room = width - LABEL_WIDTH - 44
  const marks = rows.flatMap(([name, sigma], i): Mark[] => {
    const share = study.total > 0 ? sigma / study.total : 0
    const y = i * ROW
    return [
      textMark(LABEL_WIDTH - 6, y + 11, name, { size: 8, anchor: 'end' }),
      areaMark(boxPoints(LABEL_WIDTH, y + 3, Math.max(0.5, room * share), ROW - 6), 'voltage', 0.7),
      textMark(LABEL_WIDTH + room * share + 5, y + 11, shareText(share), { size: 8, ink: 'quiet' }),
    ]
  })
  return { width, height: rows.length * ROW, marks }
}
