import {
  type FindingContext,
  type FindingRecipe,
  type MotorNumbers,
  peakNeeds,
  worstPeakAmp,
  worstSteadyAmp,
} from './finding.ts'
import { FREE_RUN_NEEDS, freeRunAmp } from './free-run.ts'

/** Common practice, no source: a sense range reaches this far beyond the worst peak. */
const SENSE_MARGIN = 1.25
const SENSE_BITS = 12
/** Common practice, no source: below that a converter hardly tells friction from its own zero. */
const FREE_COUNTS = 20

/** What the switches, their layout and the current sense see. */
export function bridgeRecipes(context: FindingContext): FindingRecipe[] {
  const { drive } = context
  const { bridge, supply, currentLimit, dcLink } = drive
  const volt = supply.highestVolt
  const worst = worstSteadyAmp(context)
  const worstPeak = worstPeakAmp(context)
  const needs = ['resistance', 'brushDrop'] as const
  const peak = peakNeeds(context)
  /** Currents of both signs where the drive brakes or reverses. */
  const senses = drive.quadrants === 1 ? 1 : 2
  const limitInput = currentLimit
    ? [{ name: 'limit', value: currentLimit.limitAmp, unit: 'A' }]
    : []
  const conduction = (m: Required<MotorNumbers>) => worst(m) ** 2 * bridge.pathResistanceOhm
  const switching = (m: Required<MotorNumbers>) =>
    worst(m) * bridge.pwmHz * (volt * bridge.edgeSec + 2 * bridge.diodeVolt * bridge.deadTimeSec)
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
      compute: conduction,
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
      compute: switching,
    },
    {
      id: 'bridgeLoss',
      label: 'Both losses of the bridge together',
      unit: 'W',
      formula: 'P = P_conduction + P_switching',
      validity: 'for its heat sink; at a stall that the drive holds',
      basis: 'bound',
      needs,
      inputs: limitInput,
      missing: bridge.edgeSec > 0 ? null : 'the drive states no edge time (bridge.edgeSec)',
      compute: m => conduction(m) + switching(m),
    },
    {
      id: 'edgeOvershoot',
      label: 'Overshoot at the switches from the loop inductance',
      unit: 'V',
      formula: 'ΔV = (L_loop + L_ESL) I_peak/t_edge',
      validity: 'the whole current commutates within the edge; ringing may double it',
      basis: 'bound',
      needs: peak,
      inputs: [
        { name: 'loop and capacitor', value: loop, unit: 'H' },
        { name: 'edge', value: bridge.edgeSec, unit: 's' },
        ...limitInput,
      ],
      missing: bridge.edgeSec > 0 ? null : 'the drive states no edge time (bridge.edgeSec)',
      compute: m => (loop * worstPeak(m)) / bridge.edgeSec,
    },
    {
      id: 'senseRange',
      label: 'Full scale of the current sense',
      unit: 'A',
      formula: 'I = 1.25 × the worst peak',
      validity: `${senses === 2 ? 'both polarities' : 'one polarity'}; the worst peak is that behind the limit, or without one of stall, braking and reversal`,
      basis: 'rule-of-thumb',
      needs: peak,
      inputs: limitInput,
      compute: m => SENSE_MARGIN * worstPeak(m),
    },
    {
      id: 'senseResolution',
      label: 'One count of a 12-bit converter over that range',
      unit: 'A',
      formula: senses === 2 ? 'I = 2 × full scale/4096' : 'I = full scale/4096',
      validity: senses === 2 ? 'bipolar range' : 'unipolar range',
      basis: 'rule-of-thumb',
      needs: peak,
      inputs: limitInput,
      compute: m => (senses * SENSE_MARGIN * worstPeak(m)) / 2 ** SENSE_BITS,
    },
    {
      id: 'senseBits',
      label: 'Converter bits for twenty counts at free run',
      unit: '1',
      formula: 'n = log₂(range × 20/I_free), I_free at the highest supply, winding cold',
      validity: 'round up; noise of the sense must be below a count to make use of them',
      basis: 'rule-of-thumb',
      needs: [...peak, ...FREE_RUN_NEEDS],
      inputs: limitInput,
      compute: m =>
        Math.log2((senses * SENSE_MARGIN * worstPeak(m) * FREE_COUNTS) / freeRunAmp(context, m)),
    },
  ]
}
