import { expect, test } from 'vitest'
import { commandBench } from '../support/command-runner.ts'
import { expectRelative } from '../support/expect-relative.ts'

const { db, run } = commandBench()

test('the whole job: a practice rig behind a pseudo-terminal, the guided sequence, the parameters beside the truth', {
  timeout: 240_000,
  retry: 1,
}, async () => {
  const { code, out, err } = await run('demo', '--once', '--db', db)
  expect(err).toMatch(
    /practice rig behind the serial device|the practice rig runs in-process instead/,
  )
  expect(code).toBe(0)
  expect(out).toContain('true value')

  const { runs } = JSON.parse((await run('runs', '--json')).out)
  const measured = runs.filter((r: { plan: { role: string } }) => r.plan.role === 'measure')
  const kinds = new Set(measured.map((r: { kind: string }) => r.kind))
  expect([...kinds].sort()).toEqual(['coast-down', 'free-run', 'locked-rotor', 'run-up', 'zero'])
  for (const each of runs) {
    expect(each).toMatchObject({ ending: 'complete', losses: [], rejectedLines: 0 })
  }
  expect(Math.max(...measured.map((r: { rateHz: number }) => r.rateHz))).toBeGreaterThanOrEqual(
    10_000,
  )

  // Brindle 12 of datasets/motors, as its file has it; the practice rig's physics is not the fit's.
  const fit = JSON.parse((await run('fit', '--motor', 'Brindle 12', '--json')).out)
  expectRelative(fit.parameters.backEmfConstant.value, 0.0251, 0.01)
  expectRelative(fit.parameters.inertia.value, 1.5e-5, 0.03)
  expectRelative(fit.parameters.resistance.value, 0.69, 0.08)
  expectRelative(fit.parameters.inductance.value, 0.62e-3, 0.05)
})
