import { createRequire } from 'node:module'
import { levenbergMarquardt } from 'ml-levenberg-marquardt'
import type { FitDocument } from '../../src/contract/fit-document.ts'
import type { TestRun } from '../../src/records/test-run.ts'
import { type Spent, spentOn } from './section.ts'

/** The package ships its source in an older TypeScript, which ours does not take: what is used of it. */
const { Solver } = createRequire(import.meta.url)('odex') as {
  readonly Solver: new (
    equations: number,
  ) => {
    absoluteTolerance: number
    relativeTolerance: number
    solve(
      derive: (t: number, y: number[]) => number[],
      from: number,
      state: number[],
      to: number,
    ): { readonly y: number[] }
  }
}

const NAMES = [
  'resistance',
  'inductance',
  'backEmfConstant',
  'brushDrop',
  'coulombTorque',
  'viscousCoefficient',
  'inertia',
] as const
const ITERATIONS = 10

/**
 * What one would write with packages alone: currents and speeds of all runs by an ODE solver from the measured
 * bridge steps, least squares with a gradient by differences. A few iterations, converged or not.
 */
export async function genericFit(
  runs: readonly TestRun[],
  start: FitDocument,
): Promise<Spent & { iterations: number }> {
  const scale = NAMES.map(name => start.parameters[name].value ?? 0)
  const y: number[] = []
  for (const { recording } of runs) {
    for (let n = 1; n < recording.sampleCount; n++) {
      y.push(recording.columns.current![n]!, SPEED_WEIGHT * recording.columns.speed![n]!)
    }
  }
  const model = (q: readonly number[]) => {
    const values = simulate(
      runs,
      q.map((value, j) => value * scale[j]!),
    )
    return (n: number) => values[n]!
  }
  let iterations = 0
  const spent = await spentOn(() => {
    iterations = levenbergMarquardt({ x: y.map((_, n) => n), y }, model, {
      initialValues: NAMES.map(() => 1),
      gradientDifference: 1e-4,
      centralDifference: true,
      maxIterations: ITERATIONS,
      errorTolerance: 0,
    }).iterations
  })
  return { ...spent, iterations }
}

/** Brings the noise of the speed to that of the current: 0.4 rad/s and 0.01 A. */
const SPEED_WEIGHT = 0.01 / 0.4

/** Current and weighted speed at every sample of every run. */
function simulate(runs: readonly TestRun[], parameters: readonly number[]): Float64Array {
  const [ohm, henry, k, drop, coulomb, viscous, inertia] = parameters as [
    number,
    number,
    number,
    number,
    number,
    number,
    number,
  ]
  const out: number[] = []
  for (const { kind, recording } of runs) {
    const time = recording.timeSec!
    const locked = kind === 'locked-rotor'
    let state = [0, 0]
    let at = time[0]!
    let open = true
    let volt = 0
    let edge = 0
    for (let n = 1; n < time.length; n++) {
      while (
        edge < recording.edges.length &&
        recording.edges[edge]!.timeSec <= time[n - 1]! + 1e-12
      ) {
        const { state: bridge, setVolt } = recording.edges[edge]!
        open = bridge === 'coast'
        volt = bridge === 'drive' ? setVolt! : 0
        edge += 1
      }
      const solver = new Solver(2)
      solver.absoluteTolerance = 1e-6
      solver.relativeTolerance = 1e-6
      const derive = (_: number, [i, w]: number[]): number[] => [
        open ? -i! * 1e4 : (volt - ohm * i! - k * w! - drop * Math.tanh(i! / 1e-3)) / henry,
        locked ? 0 : ((open ? 0 : k * i!) - coulomb * Math.tanh(w! / 0.1) - viscous * w!) / inertia,
      ]
      state = solver.solve(derive, at, state, time[n]!).y
      at = time[n]!
      out.push(state[0]!, SPEED_WEIGHT * state[1]!)
    }
  }
  return Float64Array.from(out)
}
