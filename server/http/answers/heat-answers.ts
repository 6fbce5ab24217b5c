import { InputFault } from '../../../src/base/faults.ts'
import { curveVoltage } from '../../../src/output/motor-curves.ts'
import { heatDocumentOf } from '../../../src/thermal/heat-report.ts'
import { insulationClass } from '../../../src/thermal/insulation.ts'
import { MAGNET_MATERIALS } from '../../../src/thermal/magnet-weakening.ts'
import { takeHeat } from '../../thermal/heat-shelf.ts'
import type { Answers } from './library.ts'
import { view } from './motor-answers.ts'
import { takeRecognised } from './recognise-shelf.ts'
import { runFacts } from './run-summary.ts'

export const heatAnswers: Pick<Answers, 'heatPage' | 'recognisePage'> = {
  heatPage({ store, heats }, { motor: id, run: wanted, class: name, ambient, stall, magnets }) {
    const motor = store.motors.get(id)
    const runs = store.runs
      .list({ motorId: id })
      .filter(run => run.kind === 'heating')
      .map(runFacts)
      .sort((a, b) => b.id - a.id)
    const page = { motor: view(store, motor), runs }
    const run = wanted === undefined ? runs[0] : runs.find(one => one.id === wanted)
    if (!run) {
      if (wanted === undefined) return { ...page, outcome: { state: 'no-run' } }
      throw new InputFault(`run ${wanted} is no heating run of '${motor.name}'`)
    }
    const insulation = insulationClass(name)
    if (!insulation.ok) throw new InputFault(insulation.error)
    const { known, fitted } = takeHeat(store, heats, run.id, { speed: 0, contactOhm: null })
    if (!fitted.ok) {
      return { ...page, outcome: { state: 'in-trouble', run: run.id, text: fitted.error } }
    }
    const fit = store.fits.latest(id)
    const stallVolt = stall ?? (fit && curveVoltage(fit.document))
    const document = heatDocumentOf(fitted.value, {
      ...known,
      insulation: insulation.value,
      ambientCelsius: ambient,
      stall: stallVolt === null ? null : { volt: stallVolt },
      contactOhm: null,
      declaredMagnets: magnets === undefined ? null : MAGNET_MATERIALS[magnets],
    })
    return { ...page, outcome: { state: 'told', document, stallVolt, notes: [...known.notes] } }
  },
  recognisePage({ store, heats, recognised }, { motor: id, rated, ambient }) {
    const motor = store.motors.get(id)
    const page = { motor: view(store, motor) }
    const runIds = store.runs
      .list({ motorId: id })
      .map(run => run.id)
      .sort((a, b) => a - b)
    if (runIds.length === 0) return { ...page, outcome: { state: 'no-run' } }
    const order = { ratedVolt: rated ?? null, ambientCelsius: ambient }
    const { found, notes } = takeRecognised(store, heats, recognised, motor.name, runIds, order)
    return {
      ...page,
      outcome: found.ok
        ? { state: 'told', document: found.value, notes }
        : { state: 'in-trouble', text: found.error },
    }
  },
}
