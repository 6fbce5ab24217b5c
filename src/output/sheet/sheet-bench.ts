import { quantityText, readingText } from '../../base/quantity-text.ts'
import type { SheetFacts } from '../../contract/sheet-facts.ts'
import { type Column, heading, paragraph, table } from './blocks.ts'
import { type Block, gap } from './flow.ts'
import { celsius, day, minute } from './sheet-words.ts'

export function conditions({ runs, fit }: SheetFacts, width: number): Block[] {
  const columns: Column[] = [
    { title: 'Run', width: 36, align: 'start' },
    { title: 'Test', width: 146, align: 'start' },
    { title: 'Started', width: 90, align: 'start' },
    { title: 'Air', width: 50, align: 'end' },
    { title: 'Supply', width: 54, align: 'end' },
    { title: 'Samples', width: 64, align: 'end' },
    { title: 'Ended', width: width - 440, align: 'end' },
  ]
  const rows = runs.map(run => [
    String(run.id),
    run.title || run.kind,
    minute(run.startedAt).replace(' UTC', ''),
    celsius(run.ambientCelsius),
    run.supplyVolt === null ? '–' : readingText(run.supplyVolt, 'V', 3).text,
    `${run.sampleCount}${run.samplesLost > 0 ? `, ${run.samplesLost} lost` : ''}`,
    run.ending,
  ])
  const warm = fit.document.testTemperatureCelsius
  return [
    heading('Tests', width),
    ...table(columns, rows),
    ...(warm === null
      ? []
      : [
          paragraph(`Mean winding temperature during the tests: ${celsius(warm)}.`, width, {
            ink: 'quiet',
          }),
        ]),
    gap(8),
  ]
}

export function bench({ rigs, calibrations }: SheetFacts, width: number): Block[] {
  const columns: Column[] = [
    { title: 'Channel', width: 120, align: 'start' },
    { title: 'Gain (standard uncertainty)', width: 130, align: 'end' },
    { title: 'Calibrated', width: 80, align: 'end' },
    { title: 'Valid until', width: 80, align: 'end' },
    { title: 'Against', width: width - 410, align: 'end' },
  ]
  const rows = calibrations.map(one => [
    one.channel,
    quantityText(one.gain, '', one.gain * one.gainUncertainty).text,
    day(one.performedAt),
    one.validUntil === null ? '–' : day(one.validUntil),
    one.references.join(', ') || one.method,
  ])
  const names = rigs.map(
    rig =>
      `${rig.model}, no. ${rig.serialNumber}, firmware ${rig.firmware}${rig.simulated ? ' (simulated: no motor was there)' : ''}`,
  )
  return [
    heading('Rig and calibration', width),
    paragraph(
      names.length > 0 ? names.join('; ') : 'Recordings made elsewhere; no rig is known.',
      width,
    ),
    ...(rows.length > 0
      ? table(columns, rows)
      : [
          paragraph(
            'No calibration against reference instruments is stored: the scales are those that the rig or the file declares.',
            width,
            { ink: 'quiet' },
          ),
        ]),
    gap(6),
  ]
}
