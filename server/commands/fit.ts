import { type Command, Option } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import { fitText } from '../../src/output/fit-text.ts'
import {
  BRUSH_DROP_LAWS,
  type BrushDropLaw,
  FRICTION_LAWS,
  type FrictionLaw,
} from '../../src/records/law.ts'
import type { ParameterName } from '../../src/records/parameter.ts'
import { runJob } from '../jobs/run-job.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  usingStore,
  withResult,
} from './context.ts'
import {
  fixOption,
  numberOption,
  parameterOption,
  repeated,
  runListOption,
} from './parse-options.ts'
import { type RippleOptions, rippleSettings, withRippleOptions } from './ripple-options.ts'

interface FitOptions extends StoreOption, ResultOption, RippleOptions {
  readonly speedFromRipple?: boolean
  readonly motor: string
  readonly runs?: number[]
  readonly fix: Partial<Record<ParameterName, number>>
  readonly free: ParameterName[]
  readonly referenceTemperature: number
  readonly brushDropLaw?: BrushDropLaw
  readonly frictionLaw: FrictionLaw
  readonly magnetCoefficient: number
}

export function addFitCommand(program: Command, context: CommandContext): void {
  withRippleOptions(withResult(program.command('fit')))
    .description('identify the parameters of a motor from its runs')
    .requiredOption('--motor <name>', 'the motor')
    .option('--runs <numbers>', 'only these runs, e.g. 3,4,7', runListOption)
    .option(
      '--fix <name=value>',
      'hold a parameter at a value in SI; may be repeated',
      fixOption,
      {},
    )
    .option(
      '--free <name>',
      'let a parameter be fitted that would be left out; may be repeated',
      repeated(parameterOption),
      [],
    )
    .option(
      '--reference-temperature <degC>',
      'at which R, L and k are reported',
      numberOption(-50, 200),
      20,
    )
    .addOption(
      new Option(
        '--brush-drop-law <law>',
        'how the brush drop follows the current; evidence decides unless said here',
      ).choices(BRUSH_DROP_LAWS),
    )
    .addOption(
      new Option(
        '--friction-law <law>',
        'one viscous friction for both directions, or one for each',
      )
        .choices(FRICTION_LAWS)
        .default('one'),
    )
    .option(
      '--magnet-coefficient <%/K>',
      'by how much both constants change a kelvin of magnet temperature, e.g. -0.2',
      numberOption(-2, 2),
      0,
    )
    .option(
      '--speed-from-ripple',
      'runs without a speed channel get one from the ripple; needs --segments or --ripples-per-turn',
    )
    .action(async (options: FitOptions) => {
      const ripple = options.speedFromRipple ? rippleSettings(options) : null
      if (ripple?.ripplesPerTurn === null) {
        throw new InputFault(
          '--speed-from-ripple needs --segments or --ripples-per-turn; `rotorfit ripple RUN` lists what each count would mean',
        )
      }
      const file = await usingStore(context, options, store => store.file)
      const fit = await runJob(
        'fit',
        {
          storeFile: file,
          motor: options.motor,
          runIds: options.runs ?? null,
          settings: {
            fixed: options.fix,
            freed: options.free,
            referenceTemperatureCelsius: options.referenceTemperature,
            frictionLaw: options.frictionLaw,
            magnetPerKelvin: options.magnetCoefficient / 100,
            ...(options.brushDropLaw ? { brushDropLaw: options.brushDropLaw } : {}),
          },
          ripple,
        },
        { onReport: r => context.progress(r.fraction, r.text), signal: context.interrupted },
      )
      printResult(context, options, fit.document, () => fitText(fit.document))
    })
}
