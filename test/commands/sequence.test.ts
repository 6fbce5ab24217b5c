import { expect, test } from 'vitest'
import { STEPS } from '../../src/procedure/steps/all-steps.ts'
import { CAUTIONS_QUESTION } from '../../src/procedure/steps/cautions.ts'
import type { StepId } from '../../src/procedure/step.ts'
import { startRig } from '../support/bench-at-work.ts'
import { commandBench } from '../support/command-runner.ts'
import { scratchFile, scratchStore } from '../support/scratch-store.ts'

const { runWith } = commandBench()

/** Long enough for a test to be under way by then. */
const DEED_EVERY_MS = 150

/** What the operator does when a test of a step is under way, each once and in this order. */
type Deed = readonly [during: StepId, act: 'back' | 'repeat' | 'skip' | 'resume' | 'leave' | 'kill']

/** Runs the sequence with somebody at the terminal who answers as suggested and does the deeds. */
async function attended(path: string, file: string, deeds: readonly Deed[], ...more: string[]) {
  const left = [...deeds]
  const steps: string[] = []
  const asked: string[] = []
  const interrupt = new AbortController()
  let press = () => {}
  // A key stops only while the rig drives; at any other time it does nothing here.
  const doing = setInterval(() => {
    const [during, act] = left[0] ?? []
    if (during === undefined || steps.at(-1) !== STEPS[during].title) return
    if (act === 'kill') interrupt.abort()
    else press()
  }, DEED_EVERY_MS)
  const outcome = await runWith(
    {
      interactive: true,
      interrupted: interrupt.signal,
      say: line => {
        if (line.startsWith('— ')) steps.push(line.slice(2))
      },
      onKey: listener => {
        press = listener
        return () => {}
      },
      ask: async prompt => {
        asked.push(prompt)
        if (/^(resume|back|repeat|skip|leave)\b.*\? $/.test(prompt)) return left.shift()![1]
        return /\(type 'yes'|\(yes:/.test(prompt) ? 'yes' : ''
      },
    },
    ...`sequence --port ${path} --motor M --db ${file}`.split(' '),
    ...more,
  )
  clearInterval(doing)
  return { ...outcome, steps, asked, left }
}

const titles = (...ids: StepId[]) => ids.map(id => STEPS[id].title)

test('the sequence goes back, repeats, skips, and resumes where it was interrupted', {
  retry: 2,
  timeout: 120_000,
}, async () => {
  const rig = await startRig()
  const file = scratchFile()
  const first = await attended(rig.path!, file, [
    ['zero', 'repeat'],
    ['soak', 'back'],
    ['soak', 'skip'],
    ['first-spin', 'resume'],
    ['first-spin', 'kill'],
  ])
  expect(first).toMatchObject({ code: 3 })
  expect(first.left.map(([, act]) => act)).toEqual(['kill'])
  expect(first.steps).toEqual(
    titles('cautions', 'questions', 'zero', 'soak', 'zero', 'soak', 'first-spin'),
  )
  const store = scratchStore(file)
  const kept = store.runs.list().length
  expect(kept).toBeGreaterThan(0)
  expect(store.runs.list().filter(run => run.ending === 'open')).toEqual([])

  const second = await attended(rig.path!, file, [['first-spin', 'leave']], '--resume')
  expect(second).toMatchObject({ code: 3, left: [] })
  // A new connection, and nobody knows what was done to the shaft meanwhile; the bench is known.
  const [cautions, shaft, ...rest] = second.asked
  expect(cautions).toContain(CAUTIONS_QUESTION.text)
  expect(shaft).toMatch(/shaft free, no locking bar/)
  expect(rest).toHaveLength(1)
  expect(second.steps).toEqual(titles('first-spin'))
  expect(store.runs.list().length).toBeGreaterThanOrEqual(kept)
})
