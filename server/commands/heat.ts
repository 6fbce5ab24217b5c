import type { Command } from 'commander'
import { InvalidArgumentError } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import { heatText } from '../../src/output/heat-text.ts'
import { heatDocumentOf } from '../../src/thermal/heat-report.ts'
import {
  INSULATION_CLASSES,
  type InsulationClass,
  insulationClass,
  USUAL_CLASS,
} from '../../src/thermal/insulation.ts'
import {
  isMagnetMaterial,
  MAGNET_MATERIALS,
  type MagnetMaterial,
} from '../../src/thermal/magnet-weakening.ts'
import type { Stall } from '../../src/thermal/stall-time.ts'
import { takeHeat } from '../thermal/heat-shelf.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  usingStore,
  withResult,
} from './context.ts'
import { integerOption, numberOption } from './parse-options.ts'

interface HeatOptions extends StoreOption, ResultOption {
  readonly class: string
  readonly ambient: number
  readonly stallVoltage?: number
  readonly stallCurrent?: number
  readonly magnets?: MagnetMaterial
  readonly magnetCoefficient?: number
  readonly contactResistance?: number
  readonly speed: number
}

const RPM = Math.PI / 30
/** A coefficient typed by hand is taken as known to this share. */
const TYPED_SHARE = 0.1

export function addHeatCommand(program: Command, context: CommandContext): void {
  withResult(
    program
      .command('heat')
      .argument('<run>', 'of kind heating, its number', integerOption(1, Number.MAX_SAFE_INTEGER)),
  )
    .description(
      'thermal resistances, time constants and limits from a heating and cooling run, the winding as thermometer',
    )
    .option(
      '--class <letter>',
      `insulation class, ${INSULATION_CLASSES.join(', ')} (IEC 60085)`,
      USUAL_CLASS,
    )
    .option('--ambient <degC>', 'air around the motor in use', numberOption(-60, 150), 40)
    .option('--stall-voltage <V>', 'at the terminals while stalled', numberOption(0.001, 1000))
    .option('--stall-current <A>', '… or a current that is held', numberOption(0.001, 1000))
    .option('--magnets <kind>', Object.keys(MAGNET_MATERIALS).join(', '), magnetsOption)
    .option('--magnet-coefficient <%/K>', '… or the change of k a kelvin', numberOption(-1, 0))
    .option(
      '--contact-resistance <ohm>',
      'of brushes and leads, which do not warm with the winding',
      numberOption(0, 1000),
    )
    .option('--speed <rpm>', 'in use: friction then heats too', numberOption(0, 1e6), 0)
    .action((run: number, options: HeatOptions) =>
      usingStore(context, options, store => {
        const insulation = classOf(options.class)
        const contactOhm = options.contactResistance ?? null
        const wish = { speed: RPM * options.speed, contactOhm }
        const { known, fitted } = takeHeat(store, new Map(), run, wish)
        for (const note of known.notes) context.say(note)
        if (!fitted.ok) throw new InputFault(`run ${run}: ${fitted.error}`)
        const document = heatDocumentOf(fitted.value, {
          ...known,
          insulation,
          ambientCelsius: options.ambient,
          stall: stallOf(options),
          contactOhm,
          declaredMagnets: magnetsOf(options),
        })
        printResult(context, options, document, () => heatText(document))
      }),
    )
}

function classOf(name: string): InsulationClass {
  const found = insulationClass(name)
  if (!found.ok) throw new InputFault(`--class: ${found.error}`)
  return found.value
}

function magnetsOption(name: string): MagnetMaterial {
  if (!isMagnetMaterial(name)) {
    throw new InvalidArgumentError(`needs one of ${Object.keys(MAGNET_MATERIALS).join(', ')}`)
  }
  return name
}

function stallOf({ stallVoltage, stallCurrent }: HeatOptions): Stall | null {
  if (stallVoltage !== undefined && stallCurrent !== undefined) {
    throw new InputFault('one of --stall-voltage and --stall-current is enough')
  }
  if (stallVoltage !== undefined) return { volt: stallVoltage }
  return stallCurrent === undefined ? null : { amp: stallCurrent }
}

function magnetsOf({ magnets, magnetCoefficient }: HeatOptions) {
  if (magnets !== undefined && magnetCoefficient !== undefined) {
    throw new InputFault('one of --magnets and --magnet-coefficient is enough')
  }
  if (magnets !== undefined) return MAGNET_MATERIALS[magnets]
  if (magnetCoefficient === undefined) return null
  const perKelvin = magnetCoefficient / 100
  return { perKelvin, standardUncertainty: TYPED_SHARE * Math.abs(perKelvin) }
}
