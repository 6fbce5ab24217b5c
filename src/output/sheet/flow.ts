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
