import {
  type FindingContext,
  type FindingRecipe,
  type MotorNumbers,
  worstSteadyAmp,
} from './finding.ts'

/** What the capacitor and the rail see: ripple, and the energy of a braked rotor. */
export function dcLinkRecipes(context: FindingContext): FindingRecipe[] {
  const { drive } = context
  const { dcLink, supply, bridge, load } = drive
  const volt = supply.highestVolt
  const worst = worstSteadyAmp(context)
  const bipolar = bridge.switching === 'bipolar'
  /** The link's current steps between 0 and I, or between −I and I. */
  const swings = bipolar ? 2 : 1
  const capacitor = [
    { name: 'capacitance', value: dcLink.capacitanceFarad, unit: 'F' },
    { name: 'ESR', value: dcLink.esrOhm, unit: 'ohm' },
    { name: 'PWM frequency', value: bridge.pwmHz, unit: 'Hz' },
  ]
  const kinetic = (m: Required<MotorNumbers>) => {
    const speed = Math.max(0, volt - m.brushDrop) / m.backEmfConstant
    return ((m.inertia + load.inertiaKgM2) * speed * speed) / 2
  }
  const brakes = drive.quadrants === 1 ? 'the drive does not brake' : null
  return [
    {
      id: 'linkRippleCurrent',
      label: 'Ripple current of the DC-link capacitor, RMS',
      unit: 'A',
      formula: bipolar
        ? 'I_C = 2 I √(d(1 − d)): the motor current at half duty'
        : 'I_C = I √(d(1 − d)), half of the motor current at half duty',
      validity:
        'the largest over all duties; motor current smooth, the supply delivers the mean only',
      basis: 'physics',
      needs: ['resistance', 'brushDrop'],
      inputs: capacitor.slice(2),
      compute: m => (swings * worst(m)) / 2,
    },
    {
      id: 'linkRippleVoltage',
      label: 'Ripple voltage of the DC link, peak to peak',
      unit: 'V',
      formula: bipolar ? 'ΔV = I/(2 C f) + 2 I R_ESR' : 'ΔV = I/(4 C f) + I R_ESR',
      validity: 'half duty, motor current smooth, the supply delivers the mean only',
      basis: 'bound',
      needs: ['resistance', 'brushDrop'],
      inputs: capacitor,
      compute: m =>
        swings * worst(m) * (1 / (4 * dcLink.capacitanceFarad * bridge.pwmHz) + dcLink.esrOhm),
    },
    {
      id: 'brakingEnergy',
      label: 'Kinetic energy at full speed',
      unit: 'J',
      formula: 'E = (J + J_load) ω₀²/2, ω₀ = (V − V_b)/k_e',
      validity: 'free-running speed of the highest voltage, friction left out',
      basis: 'bound',
      needs: ['inertia', 'backEmfConstant', 'brushDrop'],
      inputs: [{ name: 'load inertia', value: load.inertiaKgM2, unit: 'kg m2' }],
      missing: brakes,
      compute: kinetic,
    },
    {
      id: 'railVoltage',
      label: 'Rail voltage when all of it goes back',
      unit: 'V',
      formula: 'V = √(V₀² + 2E/C)',
      validity:
        'no loss in winding, bridge or friction and a supply that takes nothing back: never above this',
      basis: 'bound',
      needs: ['inertia', 'backEmfConstant', 'brushDrop'],
      inputs: [capacitor[0]!, { name: 'supply, highest', value: volt, unit: 'V' }],
      missing: brakes ?? (supply.sinksCurrent ? 'the supply takes the energy back' : null),
      compute: m => Math.sqrt(volt * volt + (2 * kinetic(m)) / dcLink.capacitanceFarad),
    },
    {
      id: 'capacitanceForRail',
      label: 'Capacitance that keeps the rail within its rating',
      unit: 'F',
      formula: 'C = 2E/(V_rated² − V₀²)',
      validity: 'as the rail voltage; a brake resistor is the other way',
      basis: 'bound',
      needs: ['inertia', 'backEmfConstant', 'brushDrop'],
      inputs:
        dcLink.ratedVolt === undefined
          ? []
          : [{ name: 'rated', value: dcLink.ratedVolt, unit: 'V' }],
      missing:
        brakes ??
        (dcLink.ratedVolt === undefined
          ? 'the drive states no rating of the rail (dcLink.ratedVolt)'
          : dcLink.ratedVolt <= volt
            ? `the rail's rating of ${dcLink.ratedVolt} V is not above the highest supply of ${volt} V`
            : null),
      compute: m => (2 * kinetic(m)) / (dcLink.ratedVolt! ** 2 - volt * volt),
    },
  ]
}
