import { useCallback, useEffect, useState } from 'preact/hooks'
import type { AnswerOf } from '../../src/contract/http.ts'
import type { EndpointName } from '../../src/contract/http-paths.ts'
import { addressOf, call, type CallFault, type Given } from '../api.ts'
import { onReturn } from './live.ts'

export interface Loaded<T> {
  readonly data: T | null
  readonly fault: CallFault | null
  /** True while a newer answer is on its way; the old one stays on screen. */
  readonly loading: boolean
  reload(): void
}

/** One request for a view's data, made again when its address changes. */
export function useLoad<N extends EndpointName>(name: N, given: Given<N>): Loaded<AnswerOf<N>> {
  const address = addressOf(name, given)
  const [state, setState] = useState<{
    address: string
    data: AnswerOf<N> | null
    fault: CallFault | null
  }>({ address: '', data: null, fault: null })
  const [round, setRound] = useState(0)
  // The address says all that the request depends on; `given` is made anew at every drawing.
  useEffect(() => {
    const abort = new AbortController()
    call(name, { ...given, signal: abort.signal }).then(
      data => setState({ address, data, fault: null }),
      fault => {
        if (!abort.signal.aborted) setState(old => ({ address, data: old.data, fault }))
      },
    )
    return () => abort.abort()
  }, [address, round])
  const reload = useCallback(() => setRound(n => n + 1), [])
  useEffect(() => onReturn(reload), [reload])
  return { data: state.data, fault: state.fault, loading: state.address !== address, reload }
}
