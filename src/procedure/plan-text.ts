import { readingText } from '../base/quantity-text.ts'
import { planDurationSec, type TestPlan } from './test-plan.ts'

/** What a test will do to the motor, in one sentence for the operator. */
export function planText(plan: TestPlan): string {
  const driven = plan.steps.filter(step => step.bridge === 'drive')
  const seconds = readingText(planDurationSec(plan), 's', 2).text
  if (driven.length === 0) return `Bridge off for ${seconds}: nothing is driven.`
  const volts = driven.map(step => step.setVolt)
  const low = Math.min(...volts)
  const high = Math.max(...volts)
  const range =
    low < 0 && high > 0 ? `${voltText(low)} to +${voltText(high)}` : voltText(high || low)
  const limitAmp = Math.max(...driven.map(step => step.currentLimitAmp))
  const expected =
    plan.expectedPeakAmp === null
      ? 'current not known yet'
      : `at most ${readingText(plan.expectedPeakAmp, 'A', 2).text} expected`
  const rise =
    plan.expectedRiseKelvin === null
      ? ''
      : `; hottest coil up to ${plan.expectedRiseKelvin.toFixed(1)} K warmer`
  const hottest = plan.guard?.thermometer?.hottestCelsius
  if (hottest !== undefined) {
    return `Warms the locked rotor by pulses up to ${range} until its hottest coil is at ${hottest.toFixed(0)} °C at most, then lets it cool under small ones: ${seconds} in all; bridge off above ${readingText(limitAmp, 'A', 3).text}. The motor has to be as warm as the air when it begins. It stays hot afterwards: hands off, nothing flammable near, somebody beside the bench all the time.`
  }
  return `Drives ${low < 0 && high > 0 ? range : `up to ${range}`} for ${seconds} in all; ${expected}, bridge off above ${readingText(limitAmp, 'A', 3).text}${rise}.`
}

const voltText = (volt: number) => readingText(volt, 'V', 3).text
