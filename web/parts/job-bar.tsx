import type { JobView } from '../../src/contract/http-motors.ts'
import { call } from '../api.ts'
import { tell } from '../state/live.ts'

/** Work that is being done for this page: how far it is, and how to cancel it. */
export function JobBar({ job, title }: { job: JobView; title: string }) {
  const cancel = () =>
    call('cancelJob', { params: { job: job.id } }).catch(fault => tell(fault.message, 'bad'))
  const done = job.progress ?? 0
  return (
    <section class="plate stack" aria-label={title}>
      <div class="row apart">
        <p role="status">
          <strong>{title}</strong>, {job.text}
        </p>
        <button type="button" onClick={cancel}>
          Cancel
        </button>
      </div>
      <div
        class="gauge"
        role="progressbar"
        aria-label={title}
        aria-valuemin={0}
        aria-valuemax={100}
        aria-valuenow={Math.round(100 * done)}
      >
        <i style={{ transform: `scaleX(${done})` }} />
      </div>
    </section>
  )
}
