import { seededNormal, seededUniform } from '../base/random.ts'
import type { PracticeMotor, PracticeWindingFault } from '../records/practice-motor.ts'

/** Back-EMF constant and copper resistance over one turn of the shaft, at 20 degC. */
export interface CommutatorTurn {
  /** V s/rad, equally N m/A; cell c is the mean over the cell-wide arc around c/cells of a turn. */
  readonly constant: Float64Array
  readonly copperOhm: Float64Array
}

/** Segment edges that pass brushes in one turn: lcm(N, 2p). */
export function ripplesPerTurn(segments: number, polePairs: number): number {
  let a = segments
  let b = 2 * polePairs
  while (b !== 0) [a, b] = [b, a % b]
  return (segments * 2 * polePairs) / a
}

/** Part of a segment pitch over which a brush takes hold of the next segment. */
const EDGE_SOFTNESS = 0.08
const POINTS_PER_CELL = 4

/**
 * Solves the ring of coils at each angle. The 2p brushes, alternately joined, cut the ring into 2p
 * arcs in parallel; a coil whose two segments touch the same brush is short-circuited, as far as the
 * film under the brush lets it (`shortingShare` of its resistance is taken out). With arc
 * conductances G and arc voltages E (per unit speed):
 *   1/R = ΣG,   K = Σ(G E)/ΣG,
 * so torque K i and back-EMF K ω take from and give to the same power. A coil at electrical angle x
 * from the neutral gives sin x + a sin 3x (a: `flatness`). K is scaled to its mean over the turn,
 * with `rippleShare` of the ripple left, R to `copperOhm`. Currents that circulate in the coils under
 * a brush are not modelled; their drag is part of the viscous friction.
 */
export function solveCommutator(motor: PracticeMotor, cells: number): CommutatorTurn {
  const { fault } = motor.winding
  const healthy = solveRing(motor, cells, null)
  const turn = fault ? solveRing(motor, cells, fault) : healthy
  // A damage changes what the winding was made with: the scale is that of the sound one.
  const { magnet, winding } = motor
  return {
    constant: scaled(
      turn.constant,
      meanOf(healthy.constant),
      magnet.backEmfConstantVsPerRad,
      magnet.rippleShare,
    ),
    copperOhm: scaled(turn.copperOhm, meanOf(healthy.copperOhm), winding.copperOhm, 1),
  }
}

/** A broken coil as a resistance that lets nothing through, in units of one coil. */
const BROKEN = 1e6

function solveRing(
  motor: PracticeMotor,
  cells: number,
  fault: PracticeWindingFault | null,
): CommutatorTurn {
  const { segments, polePairs, coilUnevenness, segmentUnevenness, patternSeed } = motor.winding
  if (motor.brush.widthSegments + EDGE_SOFTNESS > segments / (2 * polePairs) - 1) {
    throw new RangeError(
      `brush.widthSegments = ${motor.brush.widthSegments}; must be <= segments / (2 polePairs) - ${1 + EDGE_SOFTNESS}`,
    )
  }
  const normal = seededNormal(seededUniform(patternSeed))
  const pitch = (2 * Math.PI) / segments
  const coils = Array.from({ length: segments }, (_, j) => ({
    edgeRad: (j + segmentUnevenness * normal()) * pitch,
    ohm: 1 + coilUnevenness * normal(),
    linkage: 1 + coilUnevenness * normal(),
  }))
  const constant = new Float64Array(cells)
  const copperOhm = new Float64Array(cells)
  const arcs = 2 * polePairs
  const arcRad = (2 * Math.PI) / arcs
  const { shortingShare } = motor.brush
  const halfBrush = (motor.brush.widthSegments / 2) * pitch
  const arcOhm = new Float64Array(arcs)
  const arcVolt = new Float64Array(arcs)
  for (let point = 0; point < cells * POINTS_PER_CELL; point++) {
    const angle = (((point + 0.5) / POINTS_PER_CELL - 0.5) / cells) * 2 * Math.PI
    arcOhm.fill(0)
    arcVolt.fill(0)
    for (const [j, coil] of coils.entries()) {
      const damage = fault?.coil === j ? fault.kind : null
      if (damage === 'shorted-segments') continue
      const turned = angle + coil.edgeRad
      const at = turned - Math.floor(turned / (2 * Math.PI)) * 2 * Math.PI
      const arc = Math.min(arcs - 1, Math.floor(at / arcRad))
      const fromBrush = Math.min(at - arc * arcRad, (arc + 1) * arcRad - at)
      const free = Math.min(1, Math.max(0, 0.5 + (fromBrush - halfBrush) / (EDGE_SOFTNESS * pitch)))
      const electrical = polePairs * at
      const shape = Math.sin(electrical) + motor.magnet.flatness * Math.sin(3 * electrical)
      // Under a brush the break is bridged.
      arcOhm[arc]! +=
        damage === 'open-coil' ? BROKEN * free : (1 - shortingShare * (1 - free)) * coil.ohm
      arcVolt[arc]! += free * coil.linkage * (arc % 2 === 0 ? shape : -shape)
    }
    let conductance = 0
    let weighted = 0
    for (let arc = 0; arc < arcs; arc++) {
      conductance += 1 / arcOhm[arc]!
      weighted += arcVolt[arc]! / arcOhm[arc]!
    }
    const cell = Math.floor(point / POINTS_PER_CELL)
    constant[cell]! += weighted / conductance
    copperOhm[cell]! += 1 / conductance
  }
  return { constant, copperOhm }
}

const meanOf = (turn: Float64Array) => turn.reduce((sum, x) => sum + x, 0) / turn.length

const scaled = (turn: Float64Array, had: number, mean: number, share: number): Float64Array =>
  turn.map(x => mean * (1 + share * (x / had - 1)))
