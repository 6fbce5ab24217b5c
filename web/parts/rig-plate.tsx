import { readingText } from '../../src/base/quantity-text.ts'
import type { BenchView } from '../../src/contract/http-bench.ts'
import { call } from '../api.ts'
import { count } from '../display.ts'
import { tell } from '../state/live.ts'
import { Glyph } from './glyph.tsx'

/** Who answers on the line, and how well. */
export function RigPlate({ view, mayDrive }: { view: BenchView; mayDrive: boolean }) {
  const { rig, counters } = view
  if (!rig) return null
  return (
    <section class="row" aria-label="Rig">
      <div class="health">
        <strong>{rig.simulated ? `${rig.model}, simulated` : rig.model}</strong>
        <span class="quiet">
          no. {rig.serialNumber}, firmware {rig.firmware}
        </span>
        <span class="quiet">up to {readingText(rig.highestRateHz, 'Hz', 3).text}</span>
        {counters && <Losses lost={counters.samplesLost} rejected={counters.linesRejected} />}
        {view.recorderTrouble && (
          <span class="stamp" data-tone="bad" role="alert">
            <Glyph name="warn" />
            {view.recorderTrouble}
          </span>
        )}
      </div>
      <button
        type="button"
        disabled={!mayDrive || view.running !== null}
        onClick={() => call('disconnect').catch(fault => tell(fault.message, 'bad'))}
      >
        Disconnect
      </button>
    </section>
  )
}

function Losses({ lost, rejected }: { lost: number; rejected: number }) {
  if (lost === 0 && rejected === 0) {
    return (
      <span class="stamp" data-tone="good">
        <Glyph name="check" />
        no sample lost
      </span>
    )
  }
  return (
    <span class="stamp" data-tone="warn">
      <Glyph name="warn" />
      {count(lost)} samples lost, {count(rejected)} lines rejected
    </span>
  )
}
