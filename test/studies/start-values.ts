/**
 * Does the joint fit find every motor by itself? Random motors from 0.5 W to 500 W, each with tests of its own
 * (see test/support/random-motors.ts), fitted without a guess from anyone. Found: the fit converged, tells R, k,
 * J and dry friction, and every parameter that it calls determined lies within five of its standard uncertainties
 * or one per cent of the truth. One that is not found is fitted again from the true motor: where that ends on the
 * same motor, noise keeps the fit from the truth and no start value.
 * Prints a table in markdown, and what went wrong where; interrupted, of the motors so far. Usage:
 *   npx tsx test/studies/start-values.ts [motors, 1000 where left out] [first, 1] [every, 1]
 */
import { type RandomCase, randomCase } from '../support/random-motors.ts'
import { type CaseOutcome, endsAsFromTheTruth, judgeCase } from '../support/start-value-trial.ts'

const [count = 1000, first = 1, every = 1] = process.argv.slice(2).map(Number)

interface Tally {
  motors: number
  /** At the end at which a fit from the truth arrives as well. */
  ended: number
  found: number
}
const groups = new Map<string, Tally>()
const determined = new Map<string, number>()
const failures: string[] = []
const sizes: number[] = []

function add(group: string, ended: boolean, found: boolean): void {
  const tally = groups.get(group) ?? { motors: 0, ended: 0, found: 0 }
  tally.motors += 1
  if (ended) tally.ended += 1
  if (found) tally.found += 1
  groups.set(group, tally)
}

function decadeOf(watt: number): string {
  if (watt < 5) return '0.5 W to 5 W'
  return watt < 50 ? '5 W to 50 W' : '50 W to 500 W'
}

function record(random: RandomCase, outcome: CaseOutcome): void {
  const { tests, law, watt, samplesWithin } = random
  const quickest =
    tests === 'turning only'
      ? samplesWithin.turning
      : Math.max(samplesWithin.locked, samplesWithin.turning)
  const ended = outcome.found || endsAsFromTheTruth(random)
  add('all', ended, outcome.found)
  add(decadeOf(watt), ended, outcome.found)
  add(`brush drop: ${law}`, ended, outcome.found)
  add(`tests: ${tests}`, ended, outcome.found)
  add(
    quickest < 1 ? 'sample interval above L/R' : 'sample interval below L/R',
    ended,
    outcome.found,
  )
  for (const name of outcome.determined) determined.set(name, (determined.get(name) ?? 0) + 1)
  if (!outcome.found) {
    const what = `${watt} W, ${tests}, ${law}, ${quickest.toPrecision(2)} samples within L/R`
    const end = ended ? '' : '; NOT where a fit from the truth ends'
    failures.push(`- seed ${random.seed} (${what}): ${outcome.faults.join('; ')}${end}`)
    console.error(failures.at(-1))
  }
}

// Interrupted, it prints what it has.
let stopped = false
for (const signal of ['SIGINT', 'SIGTERM'] as const) {
  process.once(signal, () => {
    stopped = true
  })
}

for (let seed = first; seed < first + count * every && !stopped; seed += every) {
  const random = randomCase(seed)
  const begun = performance.now()
  record(random, judgeCase(random))
  sizes.push(performance.now() - begun)
  await new Promise(resolve => setImmediate(resolve))
  if (sizes.length % 50 === 0) console.error(`${sizes.length} of ${count}`)
}

console.log(
  `Seeds ${first} to ${first + (sizes.length - 1) * every}, every ${every}: ${sizes.length} motors.\n`,
)
console.log('| motors | how many | end where a fit from the truth does | found |')
console.log('|---|---|---|---|')
for (const [group, { motors, ended, found }] of [...groups].sort()) {
  console.log(`| ${group} | ${motors} | ${ended} | ${found} |`)
}
console.log('\n| parameter | determined in so many fits |')
console.log('|---|---|')
for (const [name, fits] of determined) console.log(`| ${name} | ${fits} |`)
console.log(failures.length === 0 ? '' : `\nNot found:\n\n${failures.join('\n')}`)
console.error(`median ${sizes.sort((a, b) => a - b)[sizes.length >> 1]!.toFixed(0)} ms a fit`)
