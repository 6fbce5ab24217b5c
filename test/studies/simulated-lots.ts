/**
 * How well verdicts find bad motors and spare good ones. Two parts, both seeded:
 * 1. a thousand lots of twenty at the level of identified values, for each decision rule;
 * 2. lots through the whole chain: practice-rig physics, short test, identification, verdict. Identified as
 *    `fit` does (`joint`), or by each test on its own (`alone`), which is quick enough for many lots.
 * Prints tables in markdown. Usage: npx tsx test/studies/simulated-lots.ts [lots through the whole chain] [joint|alone] [shaft positions]
 */
import { seededNormal, seededUniform } from '../../src/base/random.ts'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import { practiceSuite } from '../../src/practice-rig/practice-run.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'
import { DEFAULT_DECISION_RULE, type DecisionRule } from '../../src/quality/conformity.ts'
import { pooledUncertainty } from '../../src/quality/pooled-uncertainty.ts'
import { resolveLimits } from '../../src/quality/resolve-limits.ts'
import { judgeSample } from '../../src/quality/verdict.ts'
import { allowForPositions, referenceScatter } from '../../src/quality/widened-fit.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { practiceMotor } from '../support/practice.ts'
import {
  driveShortTest,
  identified,
  jointlyIdentified,
  shortTestFor,
} from '../support/short-test-rig.ts'
import { simulateLots } from '../support/simulated-lots.ts'

const percent = (share: number) => `${(100 * share).toFixed(2)} %`

const RULES: readonly (readonly [string, DecisionRule])[] = [
  ['95 % conformity', { kind: 'conformity', probability: 0.95 }],
  ["consumer's risk 1 %", { kind: 'consumer-risk', risk: 0.01 }],
  ['simple acceptance', { kind: 'simple' }],
]

function valueLevel(): void {
  console.log('## 1000 lots of 20, identified values\n')
  console.log(
    '| rule | R found | k found | friction found | failed on the limit | good failed | good undecided |',
  )
  console.log('|---|---|---|---|---|---|---|')
  for (const [name, rule] of RULES) {
    const { bad, edge, good } = simulateLots(1000, 20, rule)
    const found = (quantity: string) => percent(bad[quantity]!.failed / bad[quantity]!.made)
    console.log(
      `| ${name} | ${found('resistance')} | ${found('backEmfConstant')} | ${found('coulombTorque')} | ${percent(edge.failed / edge.judged)} | ${percent(good.failed / good.judged)} | ${percent(good.undecided / good.judged)} |`,
    )
  }
}

/** Three show the scatter of the resistance over the shaft's angle, within ten seconds of driving. */
const POSITIONS = Number(process.argv[4] ?? 3)

/** Half widths of the tolerances of the whole chain, as shares of the reference. */
const TOLERANCE = { resistance: 0.12, backEmfConstant: 0.05, coulombTorque: 0.2 }
type Odd = keyof typeof TOLERANCE | null

function specimen(base: PracticeMotor, seed: number, odd: Odd): PracticeMotor {
  const normal = seededNormal(seededUniform(seed))
  // A full limit-to-limit width off, towards the side that stays a motor.
  const factor = (name: keyof typeof TOLERANCE, spread: number) =>
    1 + spread * normal() + (odd === name ? 2 * TOLERANCE[name] : 0)
  const ohm = factor('resistance', 0.01)
  const k = factor('backEmfConstant', 0.005)
  const friction = factor('coulombTorque', 0.03)
  return {
    ...base,
    winding: {
      ...base.winding,
      copperOhm: base.winding.copperOhm * ohm,
      patternSeed: base.winding.patternSeed + seed,
    },
    brush: { ...base.brush, contactOhm: base.brush.contactOhm * ohm },
    magnet: { ...base.magnet, backEmfConstantVsPerRad: base.magnet.backEmfConstantVsPerRad * k },
    friction: {
      ...base.friction,
      coulombNm: base.friction.coulombNm * friction,
      staticNm: base.friction.staticNm * friction,
    },
  }
}

/** @param like of the type's reference, beside which `batch test` begins */
type Identify = (name: string, runs: readonly TestRun[], like?: FitDocument) => FitDocument

function wholeChain(lots: number, way: string, identify: Identify): void {
  const base = practiceMotor('brindle-12')
  const reference = [1, 2, 3].map(seed =>
    identify(
      `reference ${seed}`,
      practiceSuite(specimen(base, 9000 + seed, null), seed, { rateHz: 2000, benchSeed: 1 }),
    ),
  )
  const resolved = resolveLimits(
    {
      id: 1,
      typeId: 1,
      limits: Object.entries(TOLERANCE).map(([quantity, share]) => ({
        quantity,
        unit: reference[0]!.parameters[quantity as keyof typeof TOLERANCE].unit,
        basis: 'percent',
        lower: -100 * share,
        upper: 100 * share,
      })),
      referenceTemperatureCelsius: 20,
      referenceMotorIds: [],
      author: '',
      reason: '',
      setAt: '',
    },
    reference,
  )
  if (!resolved.ok) throw new Error(resolved.error)
  const test = shortTestFor(base, reference[0]!, POSITIONS)
  const scatter = referenceScatter(reference)
  const tested = (seed: number, odd: Odd) =>
    identify(`sample ${seed}`, driveShortTest(specimen(base, seed, odd), test, seed), reference[0])
  const odds = Object.keys(TOLERANCE) as (keyof typeof TOLERANCE)[]
  const samples = Array.from({ length: lots }, (_, lot) =>
    Array.from({ length: 20 }, (__, motor) => {
      const odd = motor === 0 ? odds[lot % odds.length]! : null
      return { odd, fit: tested(1000 * (lot + 1) + motor, odd) }
    }),
  ).flat()
  const fits = samples.map(sample => sample.fit)
  console.log(`\n## ${lots} lots of 20 through physics, short test and identification, ${way}\n`)
  console.log(`${test.drivenSec.toFixed(1)} s of driving, ${test.positions} shaft positions`)
  const judged = (title: string, asJudged: (fit: FitDocument) => FitDocument) => {
    const counts = new Map<string, Record<'pass' | 'fail' | 'undecided', number>>()
    for (const { odd, fit } of samples) {
      const own = allowForPositions(asJudged(fit), scatter)
      const sample = { motor: '', serialNumber: '', fit: own, entries: [] }
      const { verdict } = judgeSample(sample, resolved.value, 20, DEFAULT_DECISION_RULE)
      const name = odd ?? 'none'
      const count = counts.get(name) ?? { pass: 0, fail: 0, undecided: 0 }
      count[verdict]++
      counts.set(name, count)
    }
    console.log(`\nJudged by ${title}:\n`)
    console.log('| a limit-to-limit width off | pass | fail | undecided |')
    console.log('|---|---|---|---|')
    for (const [name, { pass, fail, undecided }] of counts) {
      console.log(`| ${name} | ${pass} | ${fail} | ${undecided} |`)
    }
  }
  judged('what each test states alone', fit => fit)
  judged('what short tests of the type state together', fit => pooledUncertainty(fit, fits))
}

valueLevel()
const isJoint = process.argv[3] !== 'alone'
wholeChain(
  Number(process.argv[2] ?? 3),
  isJoint ? 'all runs jointly' : 'each test on its own',
  isJoint ? jointlyIdentified : identified,
)
