import packageFacts from '../../../package.json' with { type: 'json' }
import { InputFault } from '../../../src/base/faults.ts'
import type { SheetFacts } from '../../../src/contract/sheet-facts.ts'
import type { RunRecord } from '../../store/run-record.ts'
import type { Store } from '../../store/store.ts'
import { sheetFile } from '../../files/sheet-file.ts'
import { fitOfMotor } from './fit-of-motor.ts'
import type { Answers } from './library.ts'
import { isOutdated, view } from './motor-answers.ts'

export const sheetAnswers: Pick<Answers, 'sheetPage' | 'sheetFile'> = {
  sheetPage({ store }, { motor, fit, madeAt }) {
    const identified = fit !== undefined || store.fits.latest(motor) !== null
    return {
      motor: view(store, store.motors.get(motor)),
      sheet: identified ? sheetFactsOf(store, motor, fit, madeAt) : null,
    }
  },
  async sheetFile({ store }, { motor, fit, madeAt, format, paper }) {
    const facts = sheetFactsOf(store, motor, fit, madeAt)
    const plain = facts.motor.name.replaceAll(/[^\p{L}\p{N}]+/gu, '-').replaceAll(/^-|-$/g, '')
    return {
      bytes: await sheetFile(facts, format, paper),
      fileName: `${plain.slice(0, 80) || 'motor'}-sheet.${format}`,
    }
  },
}

/** What the sheet of a motor states, from its newest fit or the one named. */
export function sheetFactsOf(
  store: Store,
  motorId: number,
  fitId: number | undefined,
  madeAt: string,
): SheetFacts {
  const motor = view(store, store.motors.get(motorId))
  const fit = fitOfMotor(store, motorId, fitId)
  if (!fit) {
    throw new InputFault(
      `'${motor.name}' has not been identified yet; identify it, then make the sheet`,
    )
  }
  const runs = fit.runIds.map(id => store.runs.get(id)).sort((a, b) => a.id - b.id)
  return {
    schema: 'sheet/1',
    program: `rotorfit ${packageFacts.version}`,
    madeAt,
    motor: {
      name: motor.name,
      type: motor.type,
      serialNumber: motor.serialNumber,
      lot: motor.lot,
      nameplate: motor.nameplate,
      notes: motor.notes,
    },
    fit: { id: fit.id, createdAt: fit.createdAt, document: fit.document },
    outdated: isOutdated(store, fit),
    runs: runs.map(run => ({
      id: run.id,
      kind: run.kind,
      title: run.title,
      startedAt: run.startedAt,
      ending: run.ending,
      sampleCount: run.sampleCount,
      samplesLost: run.losses.reduce((sum, loss) => sum + loss.samples, 0),
      ambientCelsius: run.conditions.ambientCelsius,
      supplyVolt: run.conditions.supplyVolt,
      source: run.source,
    })),
    rigs: rigsOf(runs),
    calibrations: calibrationsOf(store, runs),
  }
}

function rigsOf(runs: readonly RunRecord[]): SheetFacts['rigs'] {
  const rigs = new Map<string, SheetFacts['rigs'][number]>()
  for (const { rig } of runs) {
    if (!rig) continue
    const { model, serialNumber, firmware, simulated } = rig
    rigs.set(`${model}/${serialNumber}/${firmware}`, { model, serialNumber, firmware, simulated })
  }
  return [...rigs.values()]
}

function calibrationsOf(store: Store, runs: readonly RunRecord[]): SheetFacts['calibrations'] {
  const ids = new Set(runs.flatMap(run => run.calibrationIds))
  return [...ids].map(id => {
    const { channel, gain, gainUncertainty, method, performedAt, validUntil, references } =
      store.calibrations.get(id)
    return {
      channel,
      gain,
      gainUncertainty,
      method,
      performedAt,
      validUntil,
      references: references.map(one =>
        one.serialNumber === '' ? one.description : `${one.description} no. ${one.serialNumber}`,
      ),
    }
  })
}
