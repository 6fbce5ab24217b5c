import { failure, type Result, success } from '../base/result.ts'
import type { HeatDocument } from '../contract/heat-document.ts'
import type { RecogniseDocument } from '../contract/recognise-document.ts'
import type { TestRun } from '../records/test-run.ts'
import { overAngleFinding, turnFinding } from './angle-findings.ts'
import { backlashFinding } from './backlash-finding.ts'
import { capacitorFinding } from './capacitor-finding.ts'
import { lookAt } from './first-look.ts'
import { type PlateOrder, proposeNameplate } from './nameplate.ts'
import { cutOutFinding, varistorFinding } from './protection-findings.ts'
import { rippleFinding } from './ripple-finding.ts'
import { directionFinding, polarityFinding, startingFinding } from './turning-findings.ts'
import { brushFinding, resistanceFinding, timeConstantFinding } from './winding-findings.ts'

const FINDINGS = [
  resistanceFinding,
  brushFinding,
  overAngleFinding,
  polarityFinding,
  startingFinding,
  timeConstantFinding,
  rippleFinding,
  directionFinding,
  turnFinding,
  backlashFinding,
  capacitorFinding,
  varistorFinding,
  cutOutFinding,
] as const

/** What kind of motor the tests of one motor show; each finding by itself, from data alone. */
export function recognise(
  motor: string,
  runs: readonly TestRun[],
  heat: HeatDocument | null,
  order: PlateOrder,
): Result<RecogniseDocument, string> {
  const tests = runs.filter(run => run.kind !== 'zero')
  if (tests.length === 0) {
    return failure('no tests to judge by: log a locked-rotor test and a free run, both gentle')
  }
  const look = lookAt(runs)
  return success({
    schema: 'recognise/1',
    motor,
    runs: runs.map(run => run.id),
    findings: FINDINGS.map(find => find(look)),
    nameplate: proposeNameplate(look, heat, order),
  })
}
