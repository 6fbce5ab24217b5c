import { createCell } from './cell.ts'

/** The last thing that can be taken back, until something else is done or a while has passed. */
export const undo = createCell<{ readonly text: string; readonly back: () => void } | null>(null)

const OFFERED_MS = 20_000
let timer = 0

export function offerUndo(text: string, back: () => void): void {
  clearTimeout(timer)
  undo.set({
    text,
    back: () => {
      undo.set(null)
      back()
    },
  })
  timer = window.setTimeout(() => undo.set(null), OFFERED_MS)
}
