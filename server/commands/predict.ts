import type { Command } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import { predict } from '../../src/output/prediction.ts'
import { predictionText } from '../../src/output/prediction-text.ts'
import { chosenFit, type FitChoice, withFitChoice } from './chosen-fit.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  usingStore,
  withResult,
} from './context.ts'
import { numberOption } from './parse-options.ts'

interface PredictOptions extends FitChoice, StoreOption, ResultOption {
  readonly voltage: number
  readonly loadTorque?: number
  readonly temperature?: number
}

export function addPredictCommand(program: Command, context: CommandContext): void {
  withFitChoice(withResult(program.command('predict')))
    .description('torque, speed, current, power and efficiency of an identified motor')
    .requiredOption(
      '--voltage <V>',
      'at its terminals; the sign is the direction',
      numberOption(-1000, 1000),
    )
    .option(
      '--load-torque <N·m>',
      'operating point at this torque of the load',
      numberOption(-1e4, 1e4),
    )
    .option(
      '--temperature <degC>',
      'of the winding; the reference temperature where left out',
      numberOption(-100, 400),
    )
    .action((options: PredictOptions) =>
      usingStore(context, options, store => {
        const { document } = chosenFit(context, store, options)
        const prediction = predict(document, {
          voltageVolt: options.voltage,
          windingCelsius: options.temperature ?? document.referenceTemperatureCelsius,
          loadTorqueNm: options.loadTorque ?? null,
        })
        if (!prediction.ok) throw new InputFault(prediction.error)
        printResult(context, options, prediction.value, () => predictionText(prediction.value))
      }),
    )
}
