/** Paper in points. */
export const PAPERS = {
  a4: { name: 'A4', width: 595.28, height: 841.89 },
  letter: { name: 'letter', width: 612, height: 792 },
} as const

export type PaperName = keyof typeof PAPERS

export const MARGIN = { left: 48, right: 44, top: 44, bottom: 46 } as const
