import { InputFault, StoppedFault, WorkFault } from '../../src/base/faults.ts'
import { parseColumnMap } from '../../src/contract/csv-columns.ts'
import type { TestPlan } from '../../src/procedure/test-plan.ts'
import { type WatchRules, watchRules } from '../../src/procedure/watch.ts'
import type { TestKind } from '../../src/records/test-kind.ts'
import { UNKNOWN_CONDITIONS } from '../../src/records/test-run.ts'
import { openSerialLink } from '../link/serial-link.ts'
import { openRecorder } from '../recorder/open-recorder.ts'
import { logPlain } from '../session/plain-log.ts'
import { PlainRows } from '../session/plain-rows.ts'
import type { Store } from '../store/store.ts'
import { type CommandContext, printResult, type ResultOption } from './context.ts'

export interface PlainLogOptions extends ResultOption {
  readonly port: string
  readonly motor: string
  readonly test: TestKind
  readonly columns?: string
  readonly voltage?: number
  readonly currentLimit?: number
  readonly duration?: number
  readonly baud?: number
  readonly ambient?: number
}

/** What rigs that only print numbers use where nothing is said. Common practice, no source. */
const PLAIN_BAUD = 115_200
const EXAMPLE = "--columns 'time=#1:s,voltage=#2:V,current=#3:A,speed=#4:rpm'"

/** Logs a rig that only prints numbers: nothing is driven, so that no cautions are asked. */
export async function logPlainRig(
  context: CommandContext,
  options: PlainLogOptions,
  store: Store,
): Promise<void> {
  const rows = rowsOf(options)
  const conditions = { ...UNKNOWN_CONDITIONS, ambientCelsius: options.ambient ?? null }
  const link = await openSerialLink(options.port, options.baud ?? PLAIN_BAUD)
  const recorder = await openRecorder({ file: store.file })
  const stop = new AbortController()
  const onStop = () => stop.abort()
  const unkey = context.onKey(onStop)
  context.interrupted.addEventListener('abort', onStop, { once: true })
  if (context.interrupted.aborted) onStop()
  if (context.interactive) context.say('any key ends the log; the motor is in your hands')
  try {
    const run = await recorder.beginRun({
      motorId: store.motors.ensure(options.motor).id,
      kind: options.test,
      origin: 'plain-rig',
      conditions,
      benchId: null,
      rig: null,
      channels: [],
      rateHz: null,
      plan: null,
      source: link.describe,
    })
    const { ending, text, counters } = await logPlain({
      link,
      rows,
      run,
      durationSec: options.duration ?? null,
      signal: stop.signal,
      rules: rulesOf(options),
      emit: event => {
        if (event.type === 'trip') context.say(event.text)
        if (event.type === 'counters') {
          context.progress(
            0,
            `${event.counters.samples} rows, ${event.counters.samplesLost} missing`,
          )
        }
      },
    })
    const kept = `run ${run.runId} is kept: ${counters.samples} rows, ${counters.samplesLost} missing, ${counters.linesRejected} lines rejected`
    if (ending === 'link-lost') throw new WorkFault(`${text}; ${kept}`)
    if (context.interrupted.aborted) throw new StoppedFault(`${text}; ${kept}`)
    printResult(
      context,
      options,
      { schema: 'log/1', run: run.runId, motor: options.motor, ending, text, counters },
      () => `${kept}\n`,
    )
  } finally {
    unkey()
    context.interrupted.removeEventListener('abort', onStop)
    await recorder.close()
    await link.close()
  }
}

function rowsOf({ columns, voltage }: PlainLogOptions): PlainRows {
  if (voltage !== undefined) {
    throw new InputFault('--voltage with --plain: a rig that only prints numbers cannot be driven')
  }
  if (columns === undefined) throw new InputFault(`--plain needs --columns, such as ${EXAMPLE}`)
  const choices = parseColumnMap(columns)
  if (!choices.ok) throw new InputFault(`--columns: ${choices.error}`)
  const rows = PlainRows.of(choices.value)
  if (!rows.ok) throw new InputFault(`--columns: ${rows.error}; such as ${EXAMPLE}`)
  return rows.value
}

/** A current limit is watched and told; the hand on the supply is the operator's. */
function rulesOf({ test, currentLimit }: PlainLogOptions): WatchRules | null {
  if (currentLimit === undefined) return null
  const plan: TestPlan = {
    kind: test,
    rateHz: 0,
    steps: [
      {
        bridge: 'coast',
        setVolt: 0,
        durationSec: 0,
        currentLimitAmp: currentLimit,
        purpose: 'watch only',
      },
    ],
    shaft: 'any',
    conditions: UNKNOWN_CONDITIONS,
    expectedPeakAmp: null,
    expectedRiseKelvin: null,
  }
  return watchRules(plan)
}
