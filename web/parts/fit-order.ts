import type { FitBody, IdentificationPage } from '../../src/contract/http-motors.ts'

/** An order that says which runs and parameters, whatever it leaves to the evidence. */
export type UsualOrder = FitBody &
  Required<Pick<FitBody, 'runs' | 'fix' | 'free' | 'referenceTemperatureCelsius'>>

/**
 * What the next identification takes unless told otherwise: the runs, the held and the freed parameters
 * and the laws of the fit on screen, and whatever was measured since. Without a fit: all runs made to measure.
 */
export function usualOrder(page: IdentificationPage): UsualOrder {
  const { fit } = page
  const { brushDropLaw, frictionLaw, robust, magnetPerKelvin } = fit?.settings ?? {}
  const taken = new Set(fit?.document.runs)
  const runs = page.runs.filter(run =>
    fit && run.startedAt <= fit.createdAt ? taken.has(run.id) : run.meant,
  )
  return {
    runs: runs.map(run => run.id),
    fix: fit?.settings.fixed ?? {},
    free: fit?.settings.freed ?? [],
    referenceTemperatureCelsius: fit?.document.referenceTemperatureCelsius ?? 20,
    brushDropLaw,
    frictionLaw,
    robust,
    magnetPerKelvin,
  }
}

/** Runs made to measure that the fit on screen does not know yet. */
export function runsSince(page: IdentificationPage): readonly number[] {
  const { fit } = page
  if (!fit) return []
  return page.runs
    .filter(run => run.meant && run.startedAt > fit.createdAt)
    .filter(run => !fit.document.runs.includes(run.id))
    .map(run => run.id)
}
