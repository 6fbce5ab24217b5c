import type { Command } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import { benchCheckText } from '../../src/output/bench-check-text.ts'
import { gaugeStudyText } from '../../src/output/gauge-study-text.ts'
import { analyseGaugeStudy } from '../../src/quality/gauge-study.ts'
import { judgeableQuantities, readingOf } from '../../src/quality/judged-quantity.ts'
import { checksOfMotor } from '../quality/bench-checks.ts'
import type { Store } from '../store/store.ts'
import { chosenFit } from './chosen-fit.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  usingStore,
  withResult,
  withStore,
} from './context.ts'
import { repeated } from './parse-options.ts'

const text = (value: string) => value

interface AddOptions extends StoreOption {
  readonly study: string
  readonly motor: string
  readonly operator: string
}

interface CheckOptions extends StoreOption, ResultOption {
  readonly motor: string
  readonly operator?: string
  readonly quantity: string[]
  readonly show?: boolean
}

interface AnalyseOptions extends StoreOption, ResultOption {
  readonly study: string
  readonly quantity: string
}

export function addGaugeStudyCommand(program: Command, context: CommandContext): void {
  const gauge = program
    .command('gauge-study')
    .description('is it the motors or the bench? repeatability and reproducibility of the tests')
  withStore(gauge.command('add'))
    .description(
      'count the latest identification of a motor as a trial; every operator tests every motor equally often',
    )
    .requiredOption('--study <name>', 'the study; made where there is none')
    .requiredOption('--motor <name>', 'the motor')
    .requiredOption('--operator <name>', 'who tested it')
    .action((options: AddOptions) =>
      usingStore(context, options, store => {
        const fit = chosenFit(context, store, { motor: options.motor })
        store.gaugeTrials.add({
          study: options.study,
          motorId: fit.motorId,
          operator: options.operator,
          fitId: fit.id,
        })
        context.say(nextTrial(store, options.study))
      }),
    )
  withResult(gauge.command('check'))
    .description(
      'count the latest identification of a check motor, measured at the start of a shift, and look whether the bench has drifted',
    )
    .requiredOption('--motor <name>', 'the check motor: always the same, tested the same way')
    .option('--operator <name>', 'who measured it')
    .option('--quantity <name>', 'to be charted; may be repeated, else all', repeated(text), [])
    .option('--show', 'only look, count nothing')
    .action((options: CheckOptions) =>
      usingStore(context, options, store => {
        const fit = chosenFit(context, store, { motor: options.motor })
        if (!options.show) {
          if (!options.operator) {
            throw new InputFault(
              'give --operator, who measured the check motor (or --show to only look)',
            )
          }
          const { motorId, id } = fit
          store.checkMeasurements.add({ motorId, operator: options.operator, fitId: id })
        }
        const known = judgeableQuantities(fit.document)
        const stray = options.quantity.find(name => !known.includes(name))
        if (stray)
          throw new InputFault(`'${options.motor}' has no ${stray}; it has ${known.join(', ')}`)
        const quantities = options.quantity.length > 0 ? options.quantity : known
        const checks = checksOfMotor(store, fit.motorId, quantities, new Date().toISOString())
        printResult(context, options, { schema: 'check/1', motor: options.motor, checks }, () =>
          checks.length === 0
            ? `'${options.motor}' has not been measured as a check motor yet\n`
            : checks.map(benchCheckText).join('\n'),
        )
      }),
    )
  withResult(gauge.command('analyse'))
    .description('analysis of variance of one quantity')
    .requiredOption('--study <name>', 'the study')
    .requiredOption('--quantity <name>', 'a parameter or derived quantity')
    .action((options: AnalyseOptions) =>
      usingStore(context, options, store => {
        const { readings, unit } = readingsOf(store, options)
        const study = analyseGaugeStudy(readings)
        if (!study.ok) throw new InputFault(study.error.text)
        const document = {
          schema: 'gauge-study/1',
          study: options.study,
          quantity: options.quantity,
          unit,
          ...study.value,
        }
        printResult(context, options, document, () =>
          gaugeStudyText(options.quantity, unit, study.value),
        )
      }),
    )
}

function readingsOf(store: Store, { study, quantity }: AnalyseOptions) {
  const trials = store.gaugeTrials.ofStudy(study)
  if (trials.length === 0) {
    const studies = store.gaugeTrials.studies()
    throw new InputFault(
      `no study '${study}'; ${studies.length > 0 ? `there is ${studies.map(s => `'${s}'`).join(', ')}` : 'there is none yet'}`,
    )
  }
  let unit = ''
  const readings = trials.map(trial => {
    const reading = readingOf(store.fits.get(trial.fitId).document, quantity)
    const part = store.motors.get(trial.motorId).name
    if (!reading)
      throw new InputFault(`identification ${trial.fitId} of '${part}' has no ${quantity}`)
    unit = reading.unit
    return { part, operator: trial.operator, value: reading.value }
  })
  return { readings, unit }
}

/** What is still missing for equal numbers of trials. */
function nextTrial(store: Store, study: string): string {
  const trials = store.gaugeTrials.ofStudy(study)
  const motors = [...new Set(trials.map(t => t.motorId))]
  const operators = [...new Set(trials.map(t => t.operator))]
  const cells = motors.flatMap(motorId =>
    operators.map(operator => ({
      motorId,
      operator,
      count: trials.filter(t => t.motorId === motorId && t.operator === operator).length,
    })),
  )
  const most = Math.max(...cells.map(cell => cell.count))
  const missing = cells.find(cell => cell.count < most)
  const head = `${trials.length} trials: ${motors.length} motors, ${operators.length} operators`
  return missing
    ? `${head}; next: '${store.motors.get(missing.motorId).name}' by '${missing.operator}'`
    : `${head}, ${most} of each`
}
