import { RPM_PER_RAD_PER_SEC } from '../base/units.ts'
import { quantityText, shareText } from '../base/quantity-text.ts'
import type { RippleConstant } from '../ripple/back-emf-constant.ts'
import type { RippleDocument } from './ripple-document.ts'
import { textTable } from './text-table.ts'

const MOST_CANDIDATES = 16

/** What the ripple of a run tells, for a terminal. */
export function rippleText(document: RippleDocument): string {
  const rows = document.stretches.map(s => [
    `${s.fromSec.toFixed(3)} … ${s.toSec.toFixed(3)} s`,
    s.terminals === 'open' ? 'voltage' : 'current',
    s.commutationHz === null ? '–' : `${s.commutationHz.toPrecision(6)} Hz`,
    s.speedRadPerSec === null
      ? '–'
      : quantityText(
          s.speedRadPerSec * RPM_PER_RAD_PER_SEC,
          'rpm',
          (s.standardUncertainty ?? 0) * RPM_PER_RAD_PER_SEC,
        ).text,
  ])
  const table = textTable(
    [
      { title: 'time', align: 'left' },
      { title: 'ripple of the', align: 'left' },
      { title: 'commutation', align: 'right' },
      { title: 'speed(u)', align: 'right' },
    ],
    rows,
  )
  const notes = document.warnings.map(({ text }) => `${text}\n`).join('')
  if (document.ripplesPerTurn !== null) {
    const k = document.backEmfConstant
    const implied = k === null ? '' : `\n${constantText(k)}`
    const share = document.torqueRippleShare
    const torque =
      share === null
        ? ''
        : `\ntorque ripple of an ideal winding with these segments, at constant current: ${shareText(share)} of the mean, peak to peak`
    return `run ${document.run}, ${document.ripplesPerTurn} ripples a turn\n\n${table}${implied}${torque}\n${notes}`
  }
  const candidates = textTable(
    [
      { title: 'ripples a turn', align: 'right' },
      { title: 'segments (pole pairs)', align: 'left' },
      { title: 'speed', align: 'right' },
      { title: 'back-EMF constant', align: 'right' },
      { title: 'ln likelihood', align: 'right' },
    ],
    document.candidates
      .slice(0, MOST_CANDIDATES)
      .map(c => [
        String(c.ripplesPerTurn),
        c.commutators.map(({ segments, polePairs }) => `${segments} (${polePairs})`).join(', '),
        quantityText(c.radPerSec * RPM_PER_RAD_PER_SEC, 'rpm').text,
        c.backEmfConstantVsPerRad === null
          ? '–'
          : quantityText(c.backEmfConstantVsPerRad, 'V s/rad').text,
        c.logLikelihood === null ? '–' : c.logLikelihood.toFixed(1),
      ]),
  )
  return `run ${document.run}: the ripples a turn are not known, so there is no speed yet\n\n${table}\nwhat each count would mean:\n\n${candidates}\nwhat would decide:\n${document.whatDecides.map(line => `  ${line}`).join('\n')}\n${notes}`
}

function constantText({ value, standardUncertainty, from }: RippleConstant): string {
  const number = quantityText(value, 'V s/rad', standardUncertainty).text
  return from === 'open-terminals'
    ? `back-EMF constant, from open terminals: ${number}, the voltage's own calibration apart where it is not known`
    : `back-EMF constant, roughly, from the driven levels: ${number} (a coast with open terminals tells it better)`
}
