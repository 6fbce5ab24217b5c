import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { compareBatch } from '../../server/quality/compare-batch.ts'
import { refitBatch, refitTerms } from '../../server/quality/refit-batch.ts'
import { openStore } from '../../server/store/open-store.ts'
import type { Store } from '../../server/store/store.ts'
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { simulateRun } from '../../src/identify/simulate-run.ts'
import { practiceSuite } from '../../src/practice-rig/practice-run.ts'
import { DEFAULT_DECISION_RULE } from '../../src/quality/conformity.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { practiceMotor } from '../support/practice.ts'
import { jointlyIdentified as identified } from '../support/short-test-rig.ts'
import { storeLoggedRun } from '../support/store-logged-run.ts'
import { type SpeedRow, spentOn } from './section.ts'

const SAMPLES = 100
/** Motors that differ; the samples take turns. */
const SPECIMENS = 10
const RUNS = 8
const RATE_HZ = 5000
const SPREAD = 0.01

/**
 * A hundred samples of eight runs compared from stored fits, and identified anew from their recordings beside
 * the reference of their type.
 */
export async function measure(seed: number): Promise<SpeedRow[]> {
  const folder = mkdtempSync(join(tmpdir(), 'rotorfit-speed-'))
  const store = openStore(join(folder, 'store.rotorfit'), { now: Date.now })
  try {
    const specimens = Array.from({ length: SPECIMENS + 1 }, (_, n) => runsOf(seed * 100 + n, seed))
    const [reference, ...others] = specimens as [TestRun[], ...TestRun[][]]
    fill(store, reference, others, seed)
    const compared = await spentOn(() =>
      compareBatch(store, {
        batch: 'hundred',
        type: 'T',
        rule: DEFAULT_DECISION_RULE,
        otherBatch: null,
        subgroupSize: null,
        at: new Date().toISOString(),
      }),
    )
    const bare = await spentOn(() => {
      for (let i = 0; i < SAMPLES; i++) others[i % SPECIMENS]!.forEach(simulateBare)
    })
    const document = store.fits.latest(store.motors.named('reference').id)!.document
    const own = await spentOn(() => {
      for (let i = 0; i < SAMPLES; i++) {
        for (const run of others[i % SPECIMENS]!) simulateRun(document, run)
      }
    })
    const refitted = await spentOn(() =>
      refitBatch(store, 'hundred', {
        ...refitTerms(store, store.limits.current(store.types.named('T').id)),
        report: () => {},
        signal: new AbortController().signal,
      }),
    )
    return [
      {
        what: `${SAMPLES} samples of ${RUNS} runs compared from stored fits`,
        value: compared.elapsedSec,
        unit: 's',
        against: '2 s',
        ratio: compared.elapsedSec / 2,
        goal: { most: 1 },
      },
      {
        what: 'the same samples identified anew from their recordings, on all cores',
        value: refitted.elapsedSec,
        unit: 's',
        against: 'one bare simulation of the same runs by the fitted model, a step a sample',
        ratio: refitted.elapsedSec / own.elapsedSec,
        goal: { most: 40 },
      },
      {
        what: 'the same, processor time of all threads',
        value: refitted.processorSec,
        unit: 's',
        against: 'the same',
        ratio: refitted.processorSec / own.processorSec,
      },
      {
        what: 'the same samples identified anew from their recordings, on all cores',
        value: refitted.elapsedSec,
        unit: 's',
        against: 'two equations without events by Runge–Kutta, a step a sample',
        ratio: refitted.elapsedSec / bare.elapsedSec,
      },
    ]
  } finally {
    store.close()
    rmSync(folder, { recursive: true })
  }
}

/** Four tests at rest and four that turn, of a motor that differs a little from the others. */
function runsOf(specimen: number, benchSeed: number): TestRun[] {
  const base = practiceMotor('brindle-12')
  const normal = seededNormal(seededUniform(specimen))
  const ohm = base.winding.copperOhm * (1 + SPREAD * normal())
  const k = base.magnet.backEmfConstantVsPerRad * (1 + (SPREAD / 2) * normal())
  const coulombNm = base.friction.coulombNm * (1 + 3 * SPREAD * normal())
  const motor = {
    ...base,
    winding: { ...base.winding, copperOhm: ohm, patternSeed: specimen },
    magnet: { ...base.magnet, backEmfConstantVsPerRad: k },
    friction: { ...base.friction, coulombNm },
  }
  const runs = practiceSuite(motor, specimen, { rateHz: RATE_HZ, benchSeed })
  return [...runs.slice(0, 4), ...runs.slice(7, 7 + RUNS - 4)]
}

function fill(
  store: Store,
  referenceRuns: readonly TestRun[],
  specimens: readonly (readonly TestRun[])[],
  seed: number,
): void {
  const normal = seededNormal(seededUniform(seed))
  const typeId = store.types.add({ name: 'T' }).id
  const hundred = store.batches.add({ name: 'hundred' }).id
  const add = (motorId: number, own: FitDocument) =>
    store.fits.add({ motorId, runIds: [], document: own, settings: {}, inputsHash: '' })
  const referenceId = store.motors.add({ name: 'reference', typeId, serialNumber: 'R' }).id
  const referenceIds: number[] = []
  for (const run of referenceRuns) referenceIds.push(storeLoggedRun(store, referenceId, run))
  const document = identified(
    'reference',
    referenceIds.map(id => store.runs.testRun(id)),
  )
  add(referenceId, document)
  for (let i = 0; i < SAMPLES; i++) {
    const motorId = store.motors.add({ name: `M${i}`, typeId, serialNumber: `S${i}` }).id
    const own = structuredClone(document)
    for (const parameter of Object.values(own.parameters)) {
      if (parameter.value !== null) parameter.value *= 1 + 0.01 * normal()
    }
    add(motorId, own)
    store.batches.include(hundred, motorId)
    for (const run of specimens[i % SPECIMENS]!) storeLoggedRun(store, motorId, run)
  }
  const names = ['resistance', 'inductance', 'backEmfConstant', 'coulombTorque', 'inertia'] as const
  const limits = [...names, 'noLoadCurrent', 'noLoadSpeed', 'stallTorque'].map(quantity => ({
    quantity,
    unit: ({ ...document.parameters, ...document.derived } as Record<string, { unit: string }>)[
      quantity
    ]!.unit,
    basis: 'percent' as const,
    lower: -20,
    upper: 20,
  }))
  store.limits.add({
    typeId,
    limits,
    referenceTemperatureCelsius: 20,
    referenceMotorIds: [referenceId],
    author: 'Q',
    reason: 'speed',
  })
}

/** The motor's two equations by the classical Runge–Kutta method, one step a sample: no break-away, no standstill. */
function simulateBare({ recording }: TestRun): number {
  const time = recording.timeSec!
  const volt = recording.columns.voltage!
  const derive = (v: number, i: number, w: number): [number, number] => [
    (v - 0.68 * i - 0.025 * w - Math.tanh(i / 0.5)) / 6e-4,
    (0.025 * i - 6.5e-3 * Math.tanh(w) - 4e-6 * w) / 1.5e-5,
  ]
  let i = 0
  let w = 0
  for (let n = 1; n < time.length; n++) {
    const h = time[n]! - time[n - 1]!
    const v = volt[n]!
    const [a1, b1] = derive(v, i, w)
    const [a2, b2] = derive(v, i + (h / 2) * a1, w + (h / 2) * b1)
    const [a3, b3] = derive(v, i + (h / 2) * a2, w + (h / 2) * b2)
    const [a4, b4] = derive(v, i + h * a3, w + h * b3)
    i += (h / 6) * (a1 + 2 * a2 + 2 * a3 + a4)
    w += (h / 6) * (b1 + 2 * b2 + 2 * b3 + b4)
  }
  return i + w
}
