import '../style/sheet.css'
import { useMemo } from 'preact/hooks'
import type { SheetFacts } from '../../src/contract/sheet-facts.ts'
import { drawingToSvg } from '../../src/output/drawing-svg.ts'
import { PAPERS, type PaperName } from '../../src/output/sheet/paper.ts'
import { sheetPages } from '../../src/output/sheet/sheet-pages.ts'
import { addressOf } from '../api.ts'
import type { ViewProps } from '../app.tsx'
import { Blank, Unloaded } from '../parts/basics.tsx'
import { Glyph } from '../parts/glyph.tsx'
import { MotorHead } from '../parts/motor-head.tsx'
import { go, withQuery } from '../router.ts'
import { useLoad } from '../state/load.ts'
import { usePageTitle } from '../state/title.ts'

/** The sheet as it will be printed, drawn here by the same code that writes the files. */
export function Sheet({ place, id }: ViewProps) {
  const fit = place.query.get('fit') ?? undefined
  const { data, fault, reload } = useLoad('sheet', { params: { motor: id }, query: { fit } })
  const paper: PaperName = place.query.get('paper') === 'letter' ? 'letter' : 'a4'
  usePageTitle(data ? `Sheet of ${data.motor.name}` : 'Sheet')
  if (!data) return <Unloaded fault={fault} reload={reload} />
  return (
    <>
      <MotorHead motor={data.motor} tab="Sheet" />
      {data.sheet ? (
        <Pages facts={data.sheet} motorId={id} fit={fit} paper={paper} />
      ) : (
        <Blank glyph="sheet" title="Nothing to print yet">
          <p>The sheet states what was identified of this motor.</p>
          <a class="button first" href={`/motors/${id}/parameters`}>
            Identify
          </a>
        </Blank>
      )}
    </>
  )
}

const FILES = ['pdf', 'html', 'csv', 'json'] as const

function Pages(props: {
  facts: SheetFacts
  motorId: number
  fit: string | undefined
  paper: PaperName
}) {
  const { facts, motorId, fit, paper } = props
  const file = (format: (typeof FILES)[number]) =>
    addressOf('sheetFile', { params: { motor: motorId, format }, query: { fit, paper } })
  return (
    <div class="stack">
      <div class="row not-printed">
        <button type="button" class="first" onClick={() => print()}>
          Print
        </button>
        {FILES.map(format => (
          <a key={format} class="button" href={file(format)} download>
            <Glyph name="save" width="20" /> {format.toUpperCase()}
          </a>
        ))}
        <label class="row" style={{ gap: '8px' }}>
          <span class="quiet small">Paper</span>
          <select
            style={{ width: 'auto' }}
            value={paper}
            onChange={event =>
              go(withQuery({ paper: event.currentTarget.value }), { replace: true })
            }
          >
            {Object.entries(PAPERS).map(([name, facts]) => (
              <option key={name} value={name}>
                {facts.name}
              </option>
            ))}
          </select>
        </label>
      </div>
      <DrawnPages facts={facts} paper={paper} />
    </div>
  )
}

function DrawnPages({ facts, paper }: { facts: SheetFacts; paper: PaperName }) {
  const pages = useMemo(() => {
    const drawn = sheetPages(facts, paper)
    return drawn.map((page, index) =>
      drawingToSvg(page, `${facts.motor.name}, page ${index + 1} of ${drawn.length}`),
    )
  }, [facts, paper])
  return (
    <div class="sheet-pages" data-paper={paper}>
      {pages.map(svg => (
        // Made by drawingToSvg, which escapes every text.
        <div class="sheet-page" key={svg} dangerouslySetInnerHTML={{ __html: svg }} />
      ))}
    </div>
  )
}
