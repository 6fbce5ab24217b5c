import type { SheetFacts } from '../../contract/sheet-facts.ts'
import type { Drawing } from '../drawing.ts'
import { drawingToSvg, escapeXml } from '../drawing-svg.ts'
import { PAPERS, type PaperName } from './paper.ts'

/** The sheet as a file of its own. */
export const sheetHtml = (facts: SheetFacts, pages: readonly Drawing[], paper: PaperName): string =>
  pagesHtml(facts.motor.name, `${facts.motor.name}, motor sheet`, pages, paper)

/** Pages as a file of its own: opens anywhere without a network, and prints page by page. */
export function pagesHtml(
  subject: string,
  title: string,
  pages: readonly Drawing[],
  paper: PaperName,
): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>${escapeXml(title)}</title>
<style>
@page { size: ${PAPERS[paper].name}; margin: 0 }
body { margin: 0; background: #e9e6dc }
.page { display: block; width: fit-content; max-width: 100%; margin: 16px auto; background: #fff; box-shadow: 0 1px 6px #0004 }
.page svg { display: block; max-width: 100%; height: auto }
@media print {
  body { background: none }
  .page { margin: 0; box-shadow: none; break-after: page }
  .page:last-child { break-after: auto }
}
</style>
</head>
<body>
<main>
${pages.map((page, index) => `<div class="page">${drawingToSvg(page, `${subject}, page ${index + 1} of ${pages.length}`)}</div>`).join('\n')}
</main>
</body>
</html>
`
}
