import type { Evidence, FindingId, MotorFinding } from '../contract/recognise-document.ts'

const LABELS: Readonly<Record<FindingId, string>> = {
  resistanceClass: 'Resistance',
  brushes: 'Brushes',
  windingOverAngle: 'Winding over the angle',
  polarity: 'Polarity and direction',
  startingVoltage: 'Starting voltage',
  timeConstants: 'Time constants',
  rippleCount: 'Ripples a turn',
  frictionByDirection: 'Friction against direction',
  turnUnevenness: 'Cogging and unevenness over the turn',
  backlash: 'Gearbox, play',
  capacitor: 'Capacitor across the terminals',
  varistor: 'Varistor across the terminals',
  cutOut: 'Thermal cut-out',
}

export function seen(
  id: FindingId,
  confidence: 'sure' | 'likely' | 'hint',
  text: string,
  evidence: readonly Evidence[],
  runs: readonly number[],
  test: string | null = null,
): MotorFinding {
  const verdict = 'seen'
  return {
    id,
    label: LABELS[id],
    verdict,
    text,
    confidence,
    evidence: [...evidence],
    runs: [...runs],
    test,
  }
}

export function notSeen(
  id: FindingId,
  confidence: 'sure' | 'likely' | 'hint',
  text: string,
  evidence: readonly Evidence[],
  runs: readonly number[],
  test: string | null = null,
): MotorFinding {
  return { ...seen(id, confidence, text, evidence, runs, test), verdict: 'not-seen' }
}

/** 'Cannot say, because …; test that would.' */
export function cannotSay(
  id: FindingId,
  why: string,
  test: string,
  evidence: readonly Evidence[] = [],
  runs: readonly number[] = [],
): MotorFinding {
  return {
    id,
    label: LABELS[id],
    verdict: 'cannot-say',
    text: why,
    confidence: null,
    evidence: [...evidence],
    runs: [...runs],
    test,
  }
}

export const number = (
  name: string,
  value: number,
  unit: string,
  standardUncertainty: number | null = null,
): Evidence => ({ name, value, unit, standardUncertainty })
