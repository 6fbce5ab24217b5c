import type { Command } from 'commander'
import { InputFault } from '../../src/base/faults.ts'
import { rippleDocument } from '../../src/output/ripple-document.ts'
import { rippleText } from '../../src/output/ripple-text.ts'
import { fromStalls } from '../../src/ripple/add-ripple-speed.ts'
import type { RippleSettings } from '../../src/ripple/ripple-settings.ts'
import { type RippleTrack, trackRipple } from '../../src/ripple/track-ripple.ts'
import { countRipples, type TurnReference } from '../../src/ripple/turn-reference.ts'
import { readSignals } from '../../src/signals/run-signals.ts'
import type { Store } from '../store/store.ts'
import {
  type CommandContext,
  printResult,
  type ResultOption,
  type StoreOption,
  usingStore,
  withResult,
} from './context.ts'
import { integerOption, numberOption } from './parse-options.ts'
import { type RippleOptions, rippleSettings, withRippleOptions } from './ripple-options.ts'

interface Options extends StoreOption, ResultOption, RippleOptions {
  readonly resistance?: number
  readonly backEmfConstant?: number
  readonly tachometer?: number
  readonly from: number
  readonly to?: number
  readonly marks?: string
  readonly handTurn?: number
}

const RPM = Math.PI / 30
/** A rough back-EMF constant typed by hand is taken as known to this share. */
const ROUGH_SHARE = 0.12
/** A tachometer typed by hand, to this. */
const READING_SHARE = 0.005

export function addRippleCommand(program: Command, context: CommandContext): void {
  withRippleOptions(
    withResult(
      program
        .command('ripple')
        .argument('<run>', 'its number', integerOption(1, Number.MAX_SAFE_INTEGER)),
    ),
  )
    .description(
      'speed of the shaft from the ripple of the current, or of the voltage while it coasts',
    )
    .option('--resistance <ohm>', 'of the winding, roughly', numberOption(1e-4, 1e6))
    .option('--back-emf-constant <V s/rad>', 'roughly', numberOption(1e-6, 1e3))
    .option(
      '--tachometer <rpm>',
      'one reading of the speed, between --from and --to',
      numberOption(1, 1e6),
    )
    .option('--marks <s,s,…>', 'times at which a mark on the shaft passed, one a turn')
    .option('--hand-turn <n>', 'ripples counted while the shaft was turned once by hand', Number)
    .option('--from <s>', 'where the reading was taken', numberOption(0, 1e9), 0)
    .option('--to <s>', '… and until when', numberOption(0, 1e9))
    .action((run: number, options: Options) =>
      usingStore(context, options, store => {
        const { signals, track, countKnown } = read(store, run, options)
        const { segments, polePairs } = options
        const counted = polePairs === 1 ? (segments ?? null) : null
        const document = rippleDocument(run, signals, track, countKnown, counted)
        printResult(context, options, document, () => rippleText(document))
      }),
    )
}

function read(store: Store, runId: number, options: Options) {
  const run = store.runs.testRun(runId)
  const record = store.runs.get(runId)
  const signals = readSignals(run)
  const stalls = store.runs
    .list({ motorId: record.motorId })
    .filter(other => other.kind === 'locked-rotor')
    .map(other => store.runs.testRun(other.id))
  const { backEmfConstant, resistance } = options
  const settings = fromStalls(stalls, {
    ...rippleSettings(options),
    resistanceOhm: resistance ?? null,
    backEmfConstant:
      backEmfConstant === undefined
        ? null
        : { value: backEmfConstant, standardUncertainty: ROUGH_SHARE * backEmfConstant },
  })
  const follow = (with_: RippleSettings): RippleTrack => {
    const tracked = trackRipple(signals, with_)
    if (!tracked.ok) throw new InputFault(`run ${runId}: ${tracked.error.text}`)
    return tracked.value
  }
  const reference = referenceOf(options, signals.timeSec?.at(-1) ?? 0)
  if (reference === null)
    return { signals, track: follow(settings), countKnown: settings.ripplesPerTurn !== null }
  const counted = countRipples(
    reference.kind === 'hand-turn' ? null : follow({ ...settings, ripplesPerTurn: null }),
    reference,
  )
  if (!counted.ok) throw new InputFault(`run ${runId}: ${counted.error}`)
  const { ripplesPerTurn } = counted.value
  if (settings.ripplesPerTurn !== null && settings.ripplesPerTurn !== ripplesPerTurn) {
    throw new InputFault(
      `the reading says ${ripplesPerTurn} ripples a turn, the commutator ${settings.ripplesPerTurn}: one of them is wrong`,
    )
  }
  return { signals, track: follow({ ...settings, ripplesPerTurn }), countKnown: true }
}

function referenceOf(options: Options, lastSec: number): TurnReference | null {
  const { tachometer, marks, handTurn, from, to } = options
  const given = [tachometer, marks, handTurn].filter(value => value !== undefined)
  if (given.length > 1) {
    throw new InputFault('one of --tachometer, --marks and --hand-turn is enough')
  }
  if (tachometer !== undefined) {
    const radPerSec = tachometer * RPM
    return {
      kind: 'reading',
      radPerSec,
      uncertaintyRadPerSec: READING_SHARE * radPerSec,
      fromSec: from,
      toSec: to ?? lastSec,
    }
  }
  if (marks !== undefined) {
    const timesSec = marks.split(',').map(Number)
    if (timesSec.some(time => !Number.isFinite(time))) {
      throw new InputFault(`--marks '${marks}': needs times in seconds, e.g. 0.512,0.534,0.556`)
    }
    return { kind: 'marks', timesSec }
  }
  return handTurn === undefined ? null : { kind: 'hand-turn', ripples: handTurn }
}
