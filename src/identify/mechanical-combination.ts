import { DRAG_TERMS, type DragTerm } from '../analysis/friction.ts'
import { errorsInVariables, type NoisyColumn } from '../statistics/errors-in-variables.ts'
import type { Estimate } from '../statistics/weighted-mean.ts'
import {
  coastRows,
  levelRows,
  type MechanicalRow,
  splitGuess,
  type TurningRun,
  transientInertia,
  transientRows,
} from './mechanical-rows.ts'

/** The torque equation in units of current: drag, J/k_t, and 1/k_t where known torques or inertias differed. */
export interface MechanicalCombination {
  /** α, β, γ, o as of `DRAG_TERMS`, then j = J/k_t. */
  readonly values: readonly number[]
  readonly covariance: readonly (readonly number[])[]
  readonly terms: readonly DragTerm[]
  /** Terms that the runs could have shown. */
  readonly tried: readonly DragTerm[]
  readonly hasDrag: boolean
  readonly hasInertia: boolean
  /** 1/k_t, where the runs tell it; else null. */
  readonly perTorque: Estimate | null
  readonly degreesOfFreedom: number
  readonly reducedChiSquare: number | null
  /** J/k_t of each run alone, for comparison. */
  readonly eachInertia: readonly { readonly run: number; readonly estimate: Estimate }[]
}

export interface MechanicalSettings {
  /** 1/k_t to convert known torques while the runs do not tell it themselves. */
  readonly perTorque: number | null
  /** Take `perTorque` as it is, whatever the runs say of it. */
  readonly holdTorque: boolean
  /** Terms that stay whether or not they earn their place. */
  readonly freed: readonly DragTerm[]
  /** Values of α, β, γ, o and j that are given; the others are left to the fit. */
  readonly held: readonly (number | null)[]
}

const INERTIA = DRAG_TERMS.length

/** A term of second rank stays when it is this many standard uncertainties away from nil. */
const EARNED = { viscous: 2, windage: 2, offset: 3 } as const
const PASSES = 4

/**
 * Steady levels, coasts and transients of all runs in one straight regression, errors in the decelerations
 * allowed for. The inertia of a transient needs the drag and the drag of a coast the inertia: a few passes settle
 * both. Terms that do not earn their place are left out. Null where no run turns.
 */
export function combineMechanical(
  runs: readonly TurningRun[],
  settings: MechanicalSettings,
): MechanicalCombination | null {
  const all = runs.flatMap(levelRows)
  const coasts = runs.flatMap(coastRows)
  const inertiaTold = coasts.length > 0 || runs.some(run => run.moving.transient)
  const levels = inertiaTold ? all : all.filter(row => row.settled)
  const steady = [...levels, ...coasts]
  const split = hasLever(steady) ? [] : splitGuess(levels)
  const own = steady.length > 1 || levels.length > 0 ? [] : runs.flatMap(transientRows)
  const rows = [...steady, ...own, ...split]
  if (rows.length === 0) return null
  const tried = possibleTerms([...steady, ...own], settings.freed)
  const guessed = split.length > 0
  let terms: readonly DragTerm[] = guessed
    ? DRAG_TERMS.filter(term => term === 'viscous' || tried.includes(term))
    : tried
  for (;;) {
    const fit = settle(runs, rows, terms, settings)
    const weakest = fit ? (guessed ? undefined : unearned(fit, settings)) : terms.at(-1)
    if (fit && !weakest) return { ...fit, tried }
    if (terms.length <= 1) return null
    terms = terms.filter(term => term !== weakest)
  }
}

function settle(
  runs: readonly TurningRun[],
  rows: readonly MechanicalRow[],
  terms: readonly DragTerm[],
  settings: MechanicalSettings,
): MechanicalCombination | null {
  let fit: MechanicalCombination | null = null
  // Transients that tell their drag themselves have told their inertia with it.
  const alone = rows.every(row => row.source === 'transient')
  for (let pass = 0; pass < (alone ? 1 : PASSES); pass++) {
    const drag: number[] | null = fit?.hasDrag ? fit.values.slice(0, DRAG_TERMS.length) : null
    const share: number = fit?.hasDrag ? Math.sqrt(fit.covariance[0]![0]!) / fit.values[0]! : 0
    const each = runs.flatMap(run => {
      const estimate = transientInertia(run, drag, Math.min(0.5, share))
      return estimate ? [{ run, estimate }] : []
    })
    const next = solve(rows, each, terms, settings)
    if (!next) return fit
    fit = next
  }
  if (fit && alone) {
    const freedoms = fit.eachInertia.map(({ estimate }) => estimate.degreesOfFreedom)
    return { ...fit, degreesOfFreedom: Math.min(...freedoms) }
  }
  return fit
}

interface RunInertia {
  readonly run: TurningRun
  readonly estimate: Estimate
}

function solve(
  rows: readonly MechanicalRow[],
  inertias: readonly RunInertia[],
  terms: readonly DragTerm[],
  settings: MechanicalSettings,
): MechanicalCombination | null {
  const all = [...rows, ...inertias.map(inertiaRow)]
  const torques = all.map(row => row.torque)
  const tellsTorque = !settings.holdTorque && differs(all)
  const free = (j: number) => settings.held[j] === null
  const used = terms.map(term => DRAG_TERMS.indexOf(term)).filter(free)
  const of = (source: MechanicalRow['source']) => all.filter(row => row.source === source)
  // Coasts alone tell ratios only, unless a known torque or inertia was added in one of them.
  const weighed = settings.perTorque !== null && spreads(of('coast').map(row => row.torque))
  const hasDrag = of('level').length > 0 || inertias.length > 0 || weighed
  const hasInertia = inertias.length > 0 || (of('coast').length > 0 && hasDrag)
  if (!hasDrag) return null
  const columns: NoisyColumn[] = used.map(j => ({
    values: all.map(row => row.drag[j]!),
    sigmas: null,
  }))
  const fitsInertia = hasInertia && free(INERTIA)
  if (fitsInertia) {
    columns.push({
      values: all.map(row => row.acceleration),
      sigmas: all.map(row => row.accelerationSigma),
    })
  }
  if (tellsTorque) columns.push({ values: torques, sigmas: null })
  const known = tellsTorque ? 0 : (settings.perTorque ?? 0)
  const given = settings.held.map(value => value ?? 0)
  const amps = all.map(row =>
    row.drag.reduce(
      (sum, shape, j) => sum - given[j]! * shape,
      row.amps - known * row.torque - given[INERTIA]! * row.acceleration,
    ),
  )
  if (columns.length === 0) return null
  const fit = errorsInVariables(
    columns,
    amps,
    all.map(row => row.sigma),
  )
  if (!fit.ok) return null
  const { coefficients, covariance, freedom, chiSquare } = fit.value
  const reduced = freedom > 0 ? chiSquare / freedom : null
  // Birge: where the rows disagree beyond their claims, all uncertainties grow alike.
  const birge = Math.max(1, reduced ?? 1)
  const order = [...used, ...(fitsInertia ? [INERTIA] : [])]
  const places = [...DRAG_TERMS.keys(), INERTIA].map(j => order.indexOf(j))
  const last = coefficients.length - 1
  return {
    values: places.map((at, j) => coefficients[at] ?? given[j]!),
    covariance: places.map(a => places.map(b => (a < 0 || b < 0 ? 0 : covariance[a]![b]! * birge))),
    terms,
    tried: terms,
    hasDrag,
    hasInertia,
    perTorque: tellsTorque
      ? {
          value: coefficients[last]!,
          standardUncertainty: Math.sqrt(covariance[last]![last]! * birge),
          degreesOfFreedom: freedom,
        }
      : null,
    degreesOfFreedom: freedom > 0 ? freedom : Number.POSITIVE_INFINITY,
    reducedChiSquare: reduced,
    eachInertia: inertias.map(({ run, estimate }) => ({ run: run.run, estimate })),
  }
}

/** j + κ × added inertia of a run, as a row in amperes at an acceleration of that run. */
function inertiaRow({ run, estimate }: RunInertia): MechanicalRow {
  const acceleration = 1 / estimate.value
  return {
    drag: DRAG_TERMS.map(() => 0),
    acceleration,
    accelerationSigma: 0,
    torque: run.addedInertiaKgM2 * acceleration,
    amps: 1,
    sigma: estimate.standardUncertainty * acceleration,
    run: run.run,
    source: 'transient',
    settled: true,
  }
}

/** Does the known torque differ between the rows in a way that no other column follows? */
function differs(rows: readonly MechanicalRow[]): boolean {
  const of = (source: MechanicalRow['source']) => rows.filter(row => row.source === source)
  return (
    spreads(of('level').map(row => row.torque)) ||
    spreads(of('transient').map(row => row.torque / row.acceleration))
  )
}

function spreads(values: readonly number[]): boolean {
  const sizes = values.map(Math.abs)
  return values.length > 1 && Math.max(...values) - Math.min(...values) > 0.02 * Math.max(...sizes)
}

/** Fastest over slowest speed from which speed terms can be told. */
const LEVER = 1.2

function hasLever(rows: readonly MechanicalRow[]): boolean {
  const sizes = rows.map(row => Math.abs(row.drag[1]!))
  return Math.max(...sizes) > LEVER * Math.min(...sizes)
}

function possibleTerms(rows: readonly MechanicalRow[], freed: readonly DragTerm[]): DragTerm[] {
  const speeds = rows.map(row => row.drag[1]!)
  const sizes = speeds.map(Math.abs)
  const lever = hasLever(rows)
  const distinct = new Set(sizes.map(size => Math.round(Math.log(size) / 0.03))).size
  const bothWays = Math.min(...speeds) < 0 && Math.max(...speeds) > 0
  const terms: DragTerm[] = ['coulomb']
  if (lever && distinct >= 2) terms.push('viscous')
  if (lever && distinct >= 3) terms.push('windage')
  if (bothWays) terms.push('offset')
  return DRAG_TERMS.filter(term => terms.includes(term) || freed.includes(term))
}

function unearned(
  fit: MechanicalCombination,
  { freed, held }: MechanicalSettings,
): DragTerm | undefined {
  return (['offset', 'windage', 'viscous'] as const).find(term => {
    const j = DRAG_TERMS.indexOf(term)
    if (!fit.terms.includes(term) || freed.includes(term) || held[j] !== null) return false
    const limit = EARNED[term] * Math.sqrt(fit.covariance[j]![j]!)
    const value = fit.values[j]!
    return !(term === 'offset' ? Math.abs(value) > limit : value > limit)
  })
}
