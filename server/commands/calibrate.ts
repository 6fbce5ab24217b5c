import type { Command } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import { quantityText, shareText } from '../../src/base/quantity-text.ts'
import type { Bench } from '../../src/records/bench.ts'
import type { Channel } from '../../src/records/channel.ts'
import { UNIT_OF } from '../../src/records/quantity.ts'
import { type ComparisonPoint, fitCalibration } from '../../src/signals/calibration-fit.ts'
import type { BenchSession } from '../session/bench-session.ts'
import type { Store } from '../store/store.ts'
import { connectToBench } from './bench-connection.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  makingStore,
  withResult,
} from './context.ts'
import { integerOption, numberOption, repeated } from './parse-options.ts'

interface CalibrateOptions extends StoreOption, ResultOption {
  readonly port: string
  readonly channel: string
  readonly pair: ComparisonPoint[]
  readonly instrument: string
  readonly instrumentSerialNumber: string
  readonly instrumentUncertainty: number
  readonly readingUncertainty: number
  readonly author: string
  readonly validDays?: number
  readonly notes: string
  readonly baud?: number
}

const MEASURE_SEC = 1
const MEASURE_RATE_HZ = 2000

export function addCalibrateCommand(program: Command, context: CommandContext): void {
  withResult(program.command('calibrate'))
    .description('compare a channel of a rig with a reference instrument; nothing is driven')
    .requiredOption('--port <serial>', "the rig's serial port, or 'practice'")
    .requiredOption('--channel <name>', 'the channel as the rig calls it')
    .requiredOption('--instrument <text>', 'the reference instrument')
    .option('--instrument-serial-number <text>', 'of the instrument', '')
    .option(
      '--instrument-uncertainty <share>',
      'relative standard uncertainty of its gain, e.g. 0.0005',
      numberOption(0, 1),
      0,
    )
    .option(
      '--reading-uncertainty <number>',
      'standard uncertainty of one of its readings, in SI',
      numberOption(0, 1e9),
      0,
    )
    .option(
      '--pair <reference=reading>',
      'a comparison made before, in SI; may be repeated',
      repeated(pairOption),
      [],
    )
    .requiredOption('--author <name>', 'who compares')
    .option(
      '--valid-days <number>',
      'after which it is said to have expired',
      integerOption(1, 36_500),
    )
    .option('--notes <text>', 'whatever should be remembered', '')
    .option('--baud <rate>', 'of the serial port', integerOption(300, 12_000_000))
    .action((options: CalibrateOptions) =>
      makingStore(context, options, async store => {
        const connection = await connectToBench(context, options, store)
        try {
          const { session } = connection
          const channel = channelNamed(session, options.channel)
          const points = await comparisons(context, session, channel, options)
          const fit = fitCalibration(points, options.instrumentUncertainty)
          if (!fit.ok) throw new InputFault(`${channel.name}: ${fit.error}`)
          const { gain, zero, gainUncertainty, zeroUncertainty, worst, worstInUncertainties } =
            fit.value
          const now = Date.now()
          const calibration = store.calibrations.add({
            benchId: benchOf(store, session).id,
            channel: channel.name,
            gain,
            zero,
            gainUncertainty,
            zeroUncertainty,
            method: options.pair.length > 0 ? 'entered' : 'reference-instruments',
            references: [
              { description: options.instrument, serialNumber: options.instrumentSerialNumber },
            ],
            points: points.map(({ reference, reading }) => ({ reference, reading })),
            author: options.author,
            notes: options.notes,
            performedAt: new Date(now).toISOString(),
            validUntil:
              options.validDays === undefined
                ? null
                : new Date(now + options.validDays * 86_400_000).toISOString(),
          })
          const unit = UNIT_OF[channel.quantity]
          printResult(
            context,
            options,
            { schema: 'calibration/1', calibration, worst, worstInUncertainties },
            () =>
              [
                `${channel.name}: gain ${quantityText(gain, '1', gain * gainUncertainty).text} (${shareText(gainUncertainty)}), zero ${quantityText(zero, unit, zeroUncertainty).text}`,
                `farthest point ${quantityText(worst, unit).text} from the line, ${worstInUncertainties.toFixed(1)} standard uncertainties`,
                'in force for runs from now on; raw counts are never rewritten\n',
              ].join('\n'),
          )
        } finally {
          await connection.close()
        }
      }),
    )
}

function pairOption(text: string): ComparisonPoint {
  const match = /^([^=]+)=([^=]+)$/.exec(text)
  const [reference, reading] = [Number(match?.[1]), Number(match?.[2])]
  if (!Number.isFinite(reference) || !Number.isFinite(reading)) {
    throw new InputFault(`--pair ${text}: needs REFERENCE=READING in SI, e.g. 10.002=10.114`)
  }
  return { reference, referenceUncertainty: 0, reading, readingUncertainty: 0 }
}

function channelNamed(session: BenchSession, name: string): Channel {
  const { channels } = session.rig
  const found =
    channels.find(channel => channel.name === name) ??
    channels.find(channel => channel.quantity === name)
  if (!found)
    throw new InputFault(
      `the rig has no channel '${name}'; it has ${channels.map(c => `'${c.name}'`).join(', ')}`,
    )
  return found
}

/** The bench that the rig belongs to, made where there is none. */
function benchOf(store: Store, session: BenchSession): Bench {
  const { model, serialNumber } = session.rig
  return (
    store.benches.ofRig(serialNumber) ??
    store.benches.add({
      name: `${model} ${serialNumber}`,
      rigSerialNumber: serialNumber,
      supplyVolt: null,
      supplyLimitAmp: null,
      declaredAbove60Volt: false,
      sensors: [],
      fixture: null,
      notes: '',
    })
  )
}

async function comparisons(
  context: CommandContext,
  session: BenchSession,
  channel: Channel,
  options: CalibrateOptions,
): Promise<ComparisonPoint[]> {
  const count = Math.abs(channel.scale)
  // A reading is known no better than a count's rounding.
  const floor = count / Math.sqrt(12)
  if (options.pair.length > 0) {
    return options.pair.map(pair => ({
      ...pair,
      referenceUncertainty: options.readingUncertainty,
      readingUncertainty: floor,
    }))
  }
  if (!context.interactive) {
    throw new InputFault(
      'calibrate asks for the readings of the instrument; run it at a terminal, or give --pair',
    )
  }
  const unit = UNIT_OF[channel.quantity]
  const rateHz =
    session.rig.ratesHz.filter(rate => rate <= MEASURE_RATE_HZ).at(-1) ?? session.rig.ratesHz[0]!
  context.say(
    `The bridge stays off. Set the ${channel.quantity} from outside, let it settle, type what the instrument shows.`,
  )
  const points: ComparisonPoint[] = []
  for (;;) {
    const typed = (
      await context.ask(`point ${points.length + 1}, in ${unit} (empty: done): `)
    ).trim()
    if (typed === '') return points
    const reference = Number(typed)
    if (!Number.isFinite(reference)) {
      context.say(`'${typed}' is not a number`)
      continue
    }
    const reading = (await session.measure(MEASURE_SEC, rateHz)).find(
      each => each.channel === channel.name,
    )!
    const scatter = (count * reading.standardDeviationCounts) / Math.sqrt(reading.samples)
    points.push({
      reference,
      referenceUncertainty: options.readingUncertainty,
      reading: reading.meanSi,
      readingUncertainty: Math.hypot(scatter, floor),
    })
    context.say(`the channel reads ${quantityText(reading.meanSi, unit, scatter).text}`)
  }
}
