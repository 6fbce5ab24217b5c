import { type Drawing, type Mark, moved } from '../drawing.ts'
import { MARGIN, PAPERS, type PaperName } from './paper.ts'

/** A piece of a sheet that is not torn apart: its marks are drawn from its own top left. */
export interface Block {
  readonly height: number
  readonly marks: readonly Mark[]
  /** Stays on the page of the block after it: a heading. */
  readonly withNext?: boolean
}

/** Width between the margins. */
export const columnWidth = (paper: PaperName): number =>
  PAPERS[paper].width - MARGIN.left - MARGIN.right

/** Sets blocks below each other, page after page. */
export function flow(blocks: readonly Block[], paper: PaperName): Drawing[] {
  const { width, height } = PAPERS[paper]
  const bottom = height - MARGIN.bottom
  const pages: Mark[][] = [[]]
  let y: number = MARGIN.top
  for (const [index, block] of blocks.entries()) {
    let needed = block.height
    for (let at = index; blocks[at]?.withNext && blocks[at + 1]; at++) {
      needed += blocks[at + 1]!.height
    }
    if (y + needed > bottom && y > MARGIN.top) {
      pages.push([])
      y = MARGIN.top
    }
    pages.at(-1)!.push(...moved(block.marks, MARGIN.left, y))
    y += block.height
  }
  return pages.map(marks => ({ width, height, marks }))
}

export const gap = (height: number): Block => ({ height, marks: [] })

/** So much of what is signed stands above the lines to sign on, in points. */
const SIGNED_HEIGHT = 90

/** Blocks with the lines to sign them at their end: those never come to lie on a page of their own. */
export function signed(blocks: readonly Block[], lines: Block): Block[] {
  const kept = [...blocks, gap(14)]
  let above = 0
  for (let at = kept.length - 1; at >= 0 && above < SIGNED_HEIGHT; at--) {
    above += kept[at]!.height
    kept[at] = { ...kept[at]!, withNext: true }
  }
  return [...kept, lines]
}
