import '../style/drive.css'
import { useEffect, useMemo, useState } from 'preact/hooks'
import type { DriveDocument } from '../../src/contract/drive-document.ts'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import type { DrivePage } from '../../src/contract/http-heat.ts'
import { MODEL_FORMATS } from '../../src/contract/model-formats.ts'
import { motorEstimate } from '../../src/contract/motor-estimate.ts'
import type { WindingHeat } from '../../src/contract/withstand-document.ts'
import { torqueReach } from '../../src/drive/reach.ts'
import { contextOf, withstandDocumentOf } from '../../src/drive/withstand.ts'
import { reachPicture } from '../../src/output/reach-picture.ts'
import { addressOf } from '../api.ts'
import type { ViewProps } from '../app.tsx'
import { sentence } from '../display.ts'
import { Blank, Caution, Unloaded } from '../parts/basics.tsx'
import { DriveForm } from '../parts/drive-form.tsx'
import { FindingsTable, OperatingPoints } from '../parts/findings.tsx'
import { Glyph } from '../parts/glyph.tsx'
import { MotorHead } from '../parts/motor-head.tsx'
import { Picture } from '../parts/picture.tsx'
import { go, withQuery } from '../router.ts'
import { addressOfDraft, draftOfAddress } from '../state/drive-address.ts'
import { type DriveDraft, keepDraft, keptDraft, readDraft } from '../state/drive-draft.ts'
import { useLoad } from '../state/load.ts'
import { usePageTitle } from '../state/title.ts'

/** What a drive must withstand with this motor: described on the left, worked out here at every stroke. */
export function Drive({ place, id }: ViewProps) {
  const fit = place.query.get('fit') ?? undefined
  const { data, fault, reload } = useLoad('drivePage', {
    params: { motor: id },
    query: { fit },
  })
  usePageTitle(data ? `Drive for ${data.motor.name}` : 'Drive')
  if (!data) return <Unloaded fault={fault} reload={reload} />
  return (
    <>
      <MotorHead motor={data.motor} tab="Drive" />
      {data.fit ? (
        <Described
          motorId={id}
          page={data}
          found={data.fit}
          query={place.query}
          key={data.fit.id}
        />
      ) : (
        <Blank glyph="bolt" title="Nothing to withstand yet">
          <p>What a drive must withstand follows from the parameters of this motor.</p>
          <a class="button first" href={`/motors/${id}/parameters`}>
            Identify
          </a>
        </Blank>
      )}
    </>
  )
}

function Described(props: {
  motorId: number
  page: DrivePage
  found: Identified
  query: URLSearchParams
}) {
  const { motorId, page, found, query } = props
  const { id: fitId, document: fit } = found
  const [draft, setDraft] = useState(() => draftOfAddress(query) ?? keptDraft())
  const read = useMemo(() => readDraft(draft), [draft])
  const [last, setLast] = useState<DriveDocument | null>(read.drive)
  const change = (next: DriveDraft) => {
    setDraft(next)
    keepDraft(next)
    const { drive } = readDraft(next)
    if (drive) setLast(drive)
  }
  // The address names the drive on screen, also one that was kept from last time.
  useEffect(() => go(withQuery(addressOfDraft(draft)), { replace: true }), [draft])
  return (
    <div class="drive-grid">
      <DriveForm draft={draft} read={read} onChange={change} />
      <div class="stack">
        {read.drive === null && (
          <Caution>
            {last
              ? 'A field needs a look; the results are those of the description before it.'
              : 'A field needs a look before there are results.'}
          </Caution>
        )}
        {last?.windingHeatJoulePerKelvin === undefined && page.heatNote !== null && (
          <p class="quiet small">{sentence(page.heatNote)}.</p>
        )}
        {last && <Results fitId={fitId} fit={fit} heat={page.windingHeat} drive={last} />}
        <section class="plate stack" aria-label="Take it away">
          <h2>Take the motor away</h2>
          <div class="row">
            {MODEL_FORMATS.map(format => (
              <a
                key={format}
                class="button"
                href={addressOf('modelFile', {
                  params: { motor: motorId, format },
                  query: { fit: fitId },
                })}
                download
              >
                <Glyph name="save" width="20" /> {MODEL_WORDS[format]}
              </a>
            ))}
          </div>
          <p class="quiet small">
            A SPICE subcircuit, a Modelica package, or the numbers as JSON: simulated, they run up
            as the fit does.
          </p>
        </section>
      </div>
    </div>
  )
}

type Identified = NonNullable<DrivePage['fit']>

const MODEL_WORDS = { cir: 'SPICE', mo: 'Modelica', json: 'JSON' } as const
const PICTURE = { width: 620, height: 330 }

function Results(props: {
  fitId: number
  fit: FitDocument
  heat: WindingHeat | null
  drive: DriveDocument
}) {
  const { fitId, fit, heat, drive } = props
  const { findings, operatingPoints } = useMemo(
    () => withstandDocumentOf({ fit: fitId, document: fit, windingHeat: heat }, drive),
    [fitId, fit, heat, drive],
  )
  const reach = useMemo(() => {
    const estimate = motorEstimate(fit)
    const context = contextOf(estimate, drive)
    const at = (supply: 'strong' | 'weak') => {
      const point = operatingPoints.find(one => one.supply === supply)
      return point ? torqueReach(estimate, context, point) : []
    }
    return { strong: at('strong'), weak: at('weak') }
  }, [fit, drive, operatingPoints])
  return (
    <>
      <section class="plate stack" aria-label="Quadrants">
        <h2>Quadrants</h2>
        {reach.strong.length > 0 && (
          <Picture
            drawing={reachPicture(reach, operatingPoints, PICTURE)}
            label={`Shaft torque over speed that ${drive.name} reaches with this motor; the operating points are marked`}
          />
        )}
        <p class="quiet small">
          Filled: highest supply, cold winding. Dashed, hollow marks: lowest supply, hot winding.
        </p>
      </section>
      <section class="plate stack" aria-label="What it must withstand">
        <h2>What it must withstand</h2>
        <FindingsTable findings={findings} />
        <p class="quiet small">
          Uncertainties come from the motor’s parameters and its heating run; the drive’s own
          figures count as given. Prove protections on the bench, with its guards in place.
        </p>
      </section>
      <section class="plate stack" aria-label="Operating points">
        <h2>Operating points</h2>
        <OperatingPoints points={operatingPoints} />
      </section>
    </>
  )
}
