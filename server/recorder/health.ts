import type { RecorderHealth } from './recorder.ts'

export interface RecorderFigures {
  readonly runId: number
  /** What the store said when it last refused; null while it takes everything. */
  readonly failure: string | null
  readonly isLosing: boolean
  readonly isBehind: boolean
  readonly queuedBytes: number
  readonly samplesStored: number
  readonly samplesWaiting: number
  readonly samplesLost: number
}

/** How the disk keeps up, with words that say what is safe. */
export function healthOf(figures: RecorderFigures): RecorderHealth {
  const { queuedBytes, samplesStored, samplesLost } = figures
  const state = stateOf(figures)
  return { state, text: textOf(state, figures), queuedBytes, samplesStored, samplesLost }
}

/** Cheap enough for every sample. */
export function stateOf({
  failure,
  isLosing,
  isBehind,
}: Pick<RecorderFigures, 'failure' | 'isLosing' | 'isBehind'>): RecorderHealth['state'] {
  if (failure !== null) return 'failed'
  if (isLosing) return 'losing'
  return isBehind ? 'behind' : 'keeping-up'
}

function textOf(state: RecorderHealth['state'], figures: RecorderFigures): string {
  if (state === 'keeping-up') return ''
  const { runId, failure, samplesStored, samplesWaiting, samplesLost } = figures
  const lost = samplesLost > 0 ? `, ${samplesLost} are lost` : ''
  const safe = `${samplesStored} samples of run ${runId} are safe, ${samplesWaiting} wait in memory${lost}`
  return `${failure ?? 'the disk is slower than the rig'}${failure === null ? ':' : ';'} ${safe}`
}
