import { type FindingContext, type FindingRecipe, worstSteadyAmp } from './finding.ts'

/** Common practice, no source: a sense range reaches this far beyond the worst peak. */
const SENSE_MARGIN = 1.25
const SENSE_BITS = 12

/** What the switches, their layout and the current sense see. */
export function bridgeRecipes(context: FindingContext): FindingRecipe[] {
  const { drive } = context
  const { bridge, supply, currentLimit, dcLink } = drive
  const volt = supply.highestVolt
  const worst = worstSteadyAmp(context)
  const needs = ['resistance', 'brushDrop'] as const
  const limitInput = currentLimit
    ? [{ name: 'limit', value: currentLimit.limitAmp, unit: 'A' }]
    : []
  const loop = dcLink.loopInductanceHenry + dcLink.eslHenry
  return [
    {
      id: 'conductionLoss',
      label: 'Conduction loss of the bridge at the worst steady current',
      unit: 'W',
      formula: 'P = I² R_path, I the cold stall current or the limit',
      validity: 'path resistance at its operating temperature; a stall that the drive holds',
      basis: 'physics',
      needs,
      inputs: [...limitInput, { name: 'path', value: bridge.pathResistanceOhm, unit: 'ohm' }],
      compute: m => worst(m) ** 2 * bridge.pathResistanceOhm,
    },
    {
      id: 'switchingLoss',
      label: 'Switching loss of the bridge at the worst steady current',
      unit: 'W',
      formula: 'P = V I t_edge f + V_diode I 2 t_dead f',
      validity: 'hard switching, one leg at work; recovery of the diodes not counted',
      basis: 'bound',
      needs,
      inputs: [
        { name: 'edge', value: bridge.edgeSec, unit: 's' },
        { name: 'dead time', value: bridge.deadTimeSec, unit: 's' },
        { name: 'PWM frequency', value: bridge.pwmHz, unit: 'Hz' },
      ],
      missing: bridge.edgeSec > 0 ? null : 'the drive states no edge time (bridge.edgeSec)',
      compute: m =>
        worst(m) *
        bridge.pwmHz *
        (volt * bridge.edgeSec + 2 * bridge.diodeVolt * bridge.deadTimeSec),
    },
    {
      id: 'edgeOvershoot',
      label: 'Overshoot at the switches from the loop inductance',
      unit: 'V',
      formula: 'ΔV = (L_loop + L_ESL) I/t_edge',
      validity: 'the whole current commutates within the edge; ringing may double it',
      basis: 'bound',
      needs,
      inputs: [
        { name: 'loop and capacitor', value: loop, unit: 'H' },
        { name: 'edge', value: bridge.edgeSec, unit: 's' },
      ],
      missing: bridge.edgeSec > 0 ? null : 'the drive states no edge time (bridge.edgeSec)',
      compute: m => (loop * worst(m)) / bridge.edgeSec,
    },
    {
      id: 'senseRange',
      label: 'Full scale of the current sense',
      unit: 'A',
      formula: 'I = 1.25 × the worst peak',
      validity: 'both polarities where the drive brakes or reverses',
      basis: 'rule-of-thumb',
      needs,
      inputs: limitInput,
      compute: m => SENSE_MARGIN * worst(m),
    },
    {
      id: 'senseResolution',
      label: 'One count of a 12-bit converter over that range',
      unit: 'A',
      formula: 'I = 2 × full scale/4096',
      validity: 'bipolar range; the free-run current should be some twenty counts',
      basis: 'rule-of-thumb',
      needs,
      inputs: limitInput,
      compute: m => (2 * SENSE_MARGIN * worst(m)) / 2 ** SENSE_BITS,
    },
  ]
}
