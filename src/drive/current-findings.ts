import { resistanceRatio } from '../motor/winding-temperature.ts'
import { type FindingContext, type FindingRecipe, seriesOhm } from './finding.ts'
import { frequencyForRippleHz, rippleCurrentAmp } from './pwm-ripple.ts'

/** What flows: at standstill cold and hot, on reversal, on braking, as ripple. */
export function currentRecipes({
  drive,
  referenceTemperatureCelsius,
}: FindingContext): FindingRecipe[] {
  const series = seriesOhm(drive)
  const volt = drive.supply.highestVolt
  const cold = drive.ambient.lowestCelsius
  const hot = drive.windingLimitCelsius
  const ohmAt = (resistance: number, celsius: number) =>
    resistance * resistanceRatio(celsius, referenceTemperatureCelsius) + series
  const supplyInputs = [
    { name: 'supply, highest', value: volt, unit: 'V' },
    { name: 'supply, bridge and wiring in series', value: series, unit: 'ohm' },
  ]
  const stall = (id: string, label: string, celsius: number): FindingRecipe => ({
    id,
    label,
    unit: 'A',
    formula: 'I = (V − V_b)/(R(T) + R_series)',
    validity:
      'full voltage, rotor at rest, no current limit at work; the first peak of inrush is at most this',
    basis: 'physics',
    needs: ['resistance', 'brushDrop'],
    inputs: [...supplyInputs, { name: 'winding', value: celsius, unit: 'degC' }],
    compute: m => Math.max(0, volt - m.brushDrop) / ohmAt(m.resistance, celsius),
  })
  /** Free-running speed from the highest voltage; friction only lowers it. */
  const backEmf = (m: { brushDrop: number }) => Math.max(0, volt - m.brushDrop)
  const swing = drive.bridge.switching === 'bipolar' ? 2 * volt : volt
  const ripple = (m: { resistance: number; inductance: number }) =>
    rippleCurrentAmp({
      swingVolt: swing,
      resistanceOhm: m.resistance + drive.bridge.pathResistanceOhm + drive.wiring.resistanceOhm,
      inductanceHenry: m.inductance + drive.wiring.inductanceHenry,
      pwmHz: drive.bridge.pwmHz,
      duty: 0.5,
    })
  const rippleInputs = [
    { name: 'voltage swing', value: swing, unit: 'V' },
    { name: 'PWM frequency', value: drive.bridge.pwmHz, unit: 'Hz' },
    {
      name: 'bridge and wiring',
      value: drive.bridge.pathResistanceOhm + drive.wiring.resistanceOhm,
      unit: 'ohm',
    },
    { name: 'wiring', value: drive.wiring.inductanceHenry, unit: 'H' },
  ]
  const limit = drive.currentLimit
  return [
    stall('stallCurrentCold', 'Stall and inrush current, cold', cold),
    stall('stallCurrentHot', 'Stall current, winding at its limit', hot),
    {
      id: 'brakingCurrent',
      label: 'Braking current from full speed, cold',
      unit: 'A',
      formula: 'I = (V − 2 V_b)/(R(T) + R_bridge + R_wiring), back-EMF = V − V_b',
      validity:
        'terminals shorted by the bridge at the free-running speed of the highest voltage; friction left out, so from above',
      basis: 'bound',
      needs: ['resistance', 'brushDrop'],
      inputs: [supplyInputs[0]!, { name: 'winding', value: cold, unit: 'degC' }],
      compute: m =>
        Math.max(0, backEmf(m) - m.brushDrop) /
        (ohmAt(m.resistance, cold) - drive.supply.resistanceOhm),
    },
    {
      id: 'reversalCurrent',
      label: 'Reversal current from full speed, cold',
      unit: 'A',
      formula: 'I = (2 V − 2 V_b)/(R(T) + R_series)',
      validity:
        'full voltage against full speed without a current limit: nearly twice the stall current',
      basis: 'bound',
      needs: ['resistance', 'brushDrop'],
      inputs: [...supplyInputs, { name: 'winding', value: cold, unit: 'degC' }],
      missing: drive.quadrants === 4 ? null : 'the drive does not reverse',
      compute: m => Math.max(0, 2 * volt - 2 * m.brushDrop) / ohmAt(m.resistance, cold),
    },
    {
      id: 'peakBehindLimit',
      label: 'Peak current behind the current limit',
      unit: 'A',
      formula: 'I = I_limit + V t_blank/L',
      validity:
        'limit reached while the full voltage stands across the inductance (reversal: twice the voltage)',
      basis: 'bound',
      needs: ['inductance'],
      inputs: limit
        ? [
            { name: 'limit', value: limit.limitAmp, unit: 'A' },
            { name: 'blanking', value: limit.blankingSec, unit: 's' },
            supplyInputs[0]!,
          ]
        : [],
      missing: !limit
        ? 'the drive describes no current limit'
        : limit.blankingSec > 0
          ? null
          : 'the drive states no blanking time (currentLimit.blankingSec)',
      compute: m =>
        limit!.limitAmp +
        ((drive.quadrants === 4 ? 2 : 1) * volt * limit!.blankingSec) / m.inductance,
    },
    {
      id: 'rippleCurrent',
      label: 'Ripple current, peak to peak, at half duty',
      unit: 'A',
      formula: 'ΔI = (V/R)(1 − e^(−T/2τ))²/(1 − e^(−T/τ)), τ = L/R',
      validity:
        'the largest over all duties; inductance taken as at the frequency of the test (it falls at high frequency)',
      basis: 'physics',
      needs: ['resistance', 'inductance'],
      inputs: rippleInputs,
      compute: ripple,
    },
    {
      id: 'rippleTorque',
      label: 'Torque of the ripple current, peak to peak',
      unit: 'N m',
      formula: 'ΔT = k_t ΔI',
      validity: 'as the ripple current; commutation ripple comes on top',
      basis: 'physics',
      needs: ['resistance', 'inductance', 'torqueConstant'],
      inputs: rippleInputs,
      compute: m => m.torqueConstant * ripple(m),
    },
    {
      id: 'pwmFrequencyAdvice',
      label: 'PWM frequency for a ripple of a tenth of the hot stall current',
      unit: 'Hz',
      formula: 'f = V/(4 L ΔI)',
      validity: 'a sensible lower end; above about 18 kHz it is not heard',
      basis: 'rule-of-thumb',
      needs: ['resistance', 'inductance', 'brushDrop'],
      inputs: [{ name: 'voltage swing', value: swing, unit: 'V' }],
      compute: m => {
        const stallAmp = Math.max(0, volt - m.brushDrop) / ohmAt(m.resistance, hot)
        return frequencyForRippleHz(
          swing,
          m.inductance + drive.wiring.inductanceHenry,
          0.1 * stallAmp,
        )
      },
    },
  ]
}
