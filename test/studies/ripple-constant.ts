import { identifyMotor } from '../../src/identify/identify-motor.ts'
import { defaultBench } from '../../src/practice-rig/default-bench.ts'
import { practiceRun } from '../../src/practice-rig/practice-run.ts'
import type { BasicTest } from '../../src/practice-rig/practice-steps.ts'
import { practiceTruth } from '../../src/practice-rig/practice-truth.ts'
import { addRippleSpeed } from '../../src/ripple/add-ripple-speed.ts'
import { settingsForCommutator } from '../../src/ripple/ripple-settings.ts'
import { practiceMotor } from '../support/practice.ts'

/**
 * k of practice motors without a speed sensor: two locked-rotor tests at 10 kS/s, a free run and a coast-down at
 * 20 kS/s, segments counted; ripple to speed, then the joint fit. Prints a table in markdown.
 * Usage: npx tsx test/studies/ripple-constant.ts [motor …]
 */
const names = process.argv.slice(2)
const motors =
  names.length > 0 ? names : ['hazelnut-24', 'dormouse-12', 'fennimore-24', 'bellows-6']

console.log(
  '| motor | ripples a turn | k against the truth | its standard uncertainty |\n|---|---|---|---|',
)
for (const name of motors) {
  const motor = practiceMotor(name)
  const bench = defaultBench(motor)
  const channels = bench.channels.filter(channel => channel.quantity !== 'speed')
  const one = (kind: BasicTest, rateHz: number, seed: number) => ({
    ...practiceRun(motor, kind, seed, {
      bench: { ...bench, channels },
      rateHz,
      benchSeed: 3,
      shaftAngleRad: seed,
    }),
    id: seed,
  })
  const runs = [
    one('locked-rotor', 10_000, 1),
    one('locked-rotor', 10_000, 2),
    one('free-run', 20_000, 3),
    one('coast-down', 20_000, 4),
  ]
  const settings = settingsForCommutator(motor.winding.segments, motor.winding.polePairs)
  if (!settings.ok) throw new Error(settings.error)
  const spoken = addRippleSpeed(runs, settings.value)
  const fit = identifyMotor(
    name,
    spoken.runs,
    { fixed: {}, freed: [], referenceTemperatureCelsius: 20 },
    () => true,
  )
  const k = fit.ok ? fit.value.parameters.backEmfConstant : null
  const percent = (share: number) => `${(100 * share).toFixed(3)} %`
  const truth = practiceTruth(motor).backEmfConstant.value
  const cells =
    k?.value && k.standardUncertainty
      ? [percent(k.value / truth - 1), percent(k.standardUncertainty / k.value)]
      : [fit.ok ? (k?.reason ?? 'not determined') : fit.error.text, '']
  console.log(`| ${[name, settings.value.ripplesPerTurn, ...cells].join(' | ')} |`)
}
