import type { Coordinate, ModelPoint } from '../motor/parameters.ts'
import { PHASE, type PreparedRun } from '../motor/prepared-run.ts'
import type { ParameterName } from '../records/parameter.ts'
import { type DropEvidence, dropEvidence } from './drop-evidence.ts'

/** Coordinate that moves a parameter of the result. */
export const COORDINATE_OF: Readonly<Record<ParameterName, Coordinate>> = {
  resistance: 'lnResistance',
  inductance: 'lnInductance',
  backEmfConstant: 'lnBackEmf',
  torqueConstant: 'lnTorque',
  brushDrop: 'brushDrop',
  coulombTorque: 'coulomb',
  staticTorque: 'staticExcess',
  viscousCoefficient: 'viscous',
  windageCoefficient: 'windage',
  offsetTorque: 'offset',
  inertia: 'lnInertia',
}

/** What the runs of a motor can tell, by the channels and movements that are there. */
export interface Telling {
  /** The winding is driven with voltage and current measured. */
  readonly electric: boolean
  /** The shaft turns with its speed and a voltage measured. */
  readonly backEmf: boolean
  /** The shaft turns freely with its speed measured, under a current that is measured or nil. */
  readonly mechanic: boolean
  readonly bothDirections: boolean
  /** Loads or inertias are known beside the motor's own: torques are measured apart from currents. */
  readonly torque: boolean
  /** The shaft turns in some run under a current that is measured. */
  readonly fed: boolean
  readonly drop: DropEvidence
}

export function tellingOf(
  runs: readonly PreparedRun[],
  fixed: Readonly<Partial<Record<ParameterName, number>>>,
): Telling {
  let electric = false
  let backEmf = false
  let mechanic = false
  let torque = false
  let fed = false
  let forward = false
  let backward = false
  for (const run of runs) {
    const { turnsForward, turnsBackward } = turns(run)
    const turning = turnsForward || turnsBackward
    let volts = false
    for (let k = 0; k < run.stepCount; k++) {
      const phase = run.phase[k]!
      if (phase === PHASE.currentFed || phase === PHASE.blank) continue
      if (Number.isFinite(run.voltage[k]!)) volts = true
      if (phase === PHASE.driven && Number.isFinite(run.current[k]!)) electric = true
    }
    if (turning && volts) backEmf = true
    if (turning && !run.torqueUnknown) {
      mechanic = true
      forward ||= turnsForward
      backward ||= turnsBackward
      if (run.loadTorque !== null || run.loadTorqueNm !== 0) torque = true
      fed ||= run.phase.some((phase, k) => isFed(phase) && Number.isFinite(run.current[k]!))
    }
  }
  const inertias = new Set(
    runs
      .filter(run => turns(run).turnsForward || turns(run).turnsBackward)
      .map(run => run.added.inertiaKgM2),
  )
  if (mechanic && inertias.size > 1) torque = true
  return {
    electric,
    backEmf,
    mechanic,
    bothDirections: forward && backward,
    torque,
    fed,
    drop: dropEvidence(runs, fixed),
  }
}

const isFed = (phase: number) => phase === PHASE.driven || phase === PHASE.currentFed

/** Directions in which a run turns for good: more than a hundredth of its steps, beyond doubt. */
function turns(run: PreparedRun): { turnsForward: boolean; turnsBackward: boolean } {
  if (run.shaft === 'locked') return { turnsForward: false, turnsBackward: false }
  let fastest = 0
  for (const speed of run.speed) if (Math.abs(speed) > fastest) fastest = Math.abs(speed)
  let forward = 0
  let backward = 0
  for (const speed of run.speed) {
    if (speed > fastest / 10) forward += 1
    else if (speed < -fastest / 10) backward += 1
  }
  const enough = Math.max(3, run.stepCount / 100)
  return { turnsForward: forward > enough, turnsBackward: backward > enough }
}

/** Terms that stay only where they earn their place. */
export const OPTIONAL: readonly Coordinate[] = [
  'viscousDifference',
  'windage',
  'offset',
  'heating',
  'lnKnee',
  'brushDrop',
]

export interface CoordinateChoice {
  readonly coordinates: readonly Coordinate[]
  readonly tied: boolean
}

/** All coordinates that the runs may tell and nobody holds. */
export function possibleCoordinates(
  telling: Telling,
  fixed: Readonly<Partial<Record<ParameterName, number>>>,
  freed: readonly ParameterName[],
): CoordinateChoice {
  const measured = telling.torque || freed.includes('torqueConstant')
  const tied = telling.backEmf && fixed.torqueConstant === undefined && !measured
  const hasTorqueConstant =
    tied || measured || fixed.torqueConstant !== undefined || fixed.backEmfConstant !== undefined
  const list: Coordinate[] = []
  if (telling.electric) list.push('lnResistance', 'lnInductance', 'heating')
  const drop = telling.drop.told || freed.includes('brushDrop')
  if (telling.electric && drop) list.push('brushDrop', 'lnKnee')
  if (telling.backEmf) list.push('lnBackEmf')
  if (telling.mechanic && hasTorqueConstant) {
    if (measured && telling.fed) list.push('lnTorque')
    list.push('lnInertia', 'viscous', 'coulomb', 'windage')
    if (telling.bothDirections) list.push('offset', 'viscousDifference')
    if (freed.includes('staticTorque')) list.push('staticExcess')
  }
  const held = new Set<Coordinate>(
    Object.keys(fixed).map(name => COORDINATE_OF[name as ParameterName]),
  )
  // A drop that is held at nil has no bend.
  if (fixed.brushDrop === 0) held.add('lnKnee')
  return { coordinates: list.filter(coordinate => !held.has(coordinate)), tied }
}

/** Values that the user holds, laid over a point. */
export function withFixed(
  point: ModelPoint,
  fixed: Readonly<Partial<Record<ParameterName, number>>>,
  tied: boolean,
): ModelPoint {
  const k = fixed.backEmfConstant ?? point.backEmfConstantVsPerRad
  const coulomb = fixed.coulombTorque ?? point.coulombTorqueNm
  return {
    ...point,
    resistanceOhm: fixed.resistance ?? point.resistanceOhm,
    inductanceHenry: fixed.inductance ?? point.inductanceHenry,
    backEmfConstantVsPerRad: k,
    torqueConstantNmPerA: fixed.torqueConstant ?? (tied ? k : point.torqueConstantNmPerA),
    brushDropVolt: fixed.brushDrop ?? point.brushDropVolt,
    coulombTorqueNm: coulomb,
    staticExcessNm:
      fixed.staticTorque === undefined
        ? point.staticExcessNm
        : Math.max(0, fixed.staticTorque - coulomb),
    viscousNmsPerRad: fixed.viscousCoefficient ?? point.viscousNmsPerRad,
    windageNms2PerRad2: fixed.windageCoefficient ?? point.windageNms2PerRad2,
    offsetTorqueNm: fixed.offsetTorque ?? point.offsetTorqueNm,
    inertiaKgM2: fixed.inertia ?? point.inertiaKgM2,
  }
}
