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
  return { ...verdict(figures), queuedBytes, samplesStored, samplesLost }
}

function verdict(figures: RecorderFigures): Pick<RecorderHealth, 'state' | 'text'> {
  const { runId, failure, isLosing, isBehind } = figures
  const { samplesStored, samplesWaiting, samplesLost } = figures
  const lost = samplesLost > 0 ? `, ${samplesLost} are lost` : ''
  const safe = `${samplesStored} samples of run ${runId} are safe, ${samplesWaiting} wait in memory${lost}`
  if (failure !== null) return { state: 'failed', text: `${failure}; ${safe}` }
  if (!isLosing && !isBehind) return { state: 'keeping-up', text: '' }
  return {
    state: isLosing ? 'losing' : 'behind',
    text: `the disk is slower than the rig: ${safe}`,
  }
}
