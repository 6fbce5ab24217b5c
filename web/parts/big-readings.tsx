import { useEffect, useState } from 'preact/hooks'
import type { BenchView } from '../../src/contract/http-bench.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import { reading, SHOWN } from '../display.ts'
import { traces } from '../state/traces.ts'

/** Figures change at most this often: faster cannot be read. */
const REFRESH_MS = 150

/** The newest value of each channel, large, with its limit drawn below it. */
export function BigReadings({ view }: { view: BenchView }) {
  const [, setRound] = useState(0)
  useEffect(() => {
    let due = true
    let wasStale = traces.isStale
    const stop = traces.listen(() => {
      due = true
    })
    const timer = setInterval(() => {
      if (!due && wasStale === traces.isStale) return
      due = false
      wasStale = traces.isStale
      setRound(n => n + 1)
    }, REFRESH_MS)
    return () => {
      stop()
      clearInterval(timer)
    }
  }, [])
  const quantities = view.rig?.channels.map(channel => channel.quantity) ?? []
  return (
    <section class="readings" aria-label="Readings now">
      {[...new Set(quantities)].map(quantity => (
        <Reading
          key={quantity}
          quantity={quantity}
          // What was read before the link was lost is not what is now.
          isKnown={view.state !== 'lost' && !traces.isStale}
          limit={limitOf(view, quantity)}
        />
      ))}
    </section>
  )
}

/** In SI; what the bench keeps within by itself, or what the running test allows. */
export function limitOf(view: BenchView, quantity: Quantity): number | null {
  const limits = view.rig?.limits
  if (!limits) return null
  if (quantity === 'voltage') return limits.driveVolt
  if (quantity === 'current') return view.running?.currentLimitAmp ?? limits.currentAmp
  if (quantity === 'speed') return limits.speedRadPerSec
  return null
}

function Reading(props: { quantity: Quantity; isKnown: boolean; limit: number | null }) {
  const { quantity, isKnown, limit } = props
  const value = isKnown ? (traces.channels.get(quantity)?.latest ?? null) : null
  const facts = SHOWN[quantity]
  const { number, unit } = reading(quantity, steady(value, limit), 3)
  const share = value === null || limit === null ? 0 : Math.min(1, Math.abs(value) / limit)
  const ink = `var(${facts.colour})`
  return (
    <div class="big" style={{ borderLeftColor: ink }}>
      <div class="name">{facts.label}</div>
      <div class="value">
        {number}
        <span class="unit">{unit}</span>
      </div>
      {limit !== null && (
        <div class="limit" aria-hidden="true">
          <i
            style={{ transform: `scaleX(${share})`, background: share > 0.9 ? 'var(--bad)' : ink }}
          />
        </div>
      )}
      <div class="limit-words">{limit !== null && `limit ${reading(quantity, limit, 3).text}`}</div>
    </div>
  )
}

/** Below a thousandth of the range it is noise about zero: no dance of prefixes. */
function steady(value: number | null, limit: number | null): number | null {
  if (value === null || limit === null) return value
  return Math.abs(value) < limit / 1000 ? 0 : value
}
