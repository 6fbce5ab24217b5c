import { useEffect, useState } from 'preact/hooks'

/** Where the page is: the address names what is on screen, and back goes back. */
export interface Place {
  readonly path: string
  readonly query: URLSearchParams
}

const listeners = new Set<() => void>()
const here = (): Place => ({
  path: location.pathname,
  query: new URLSearchParams(location.search),
})

addEventListener('popstate', () => announce())

function announce() {
  for (const listener of listeners) listener()
}

/** Goes to an address of this page. `replace` where back should not lead here again. */
export function go(address: string, options: { replace?: boolean } = {}): void {
  if (address === location.pathname + location.search) return
  if (options.replace) history.replaceState(null, '', address)
  else history.pushState(null, '', address)
  announce()
}

/** The same place with some of its query changed; null takes a key out. */
export function withQuery(changes: Readonly<Record<string, string | number | null>>): string {
  const query = new URLSearchParams(location.search)
  for (const [key, value] of Object.entries(changes)) {
    if (value === null || value === '') query.delete(key)
    else query.set(key, String(value))
  }
  const text = query.toString()
  return location.pathname + (text === '' ? '' : `?${text}`)
}

/** What should have the focus once the place that was gone to has been drawn. */
let wanted: string | null = null
export function goFocus(address: string, id: string): void {
  wanted = id
  go(address)
  takeFocus(id)
}

/** For the element of that id, once it is there. */
export function takeFocus(id: string): void {
  const element = document.getElementById(id)
  if (wanted !== id || !element) return
  wanted = null
  element.focus()
}

export function usePlace(): Place {
  const [place, setPlace] = useState(here)
  useEffect(() => {
    const listener = () => setPlace(here())
    listeners.add(listener)
    return () => {
      listeners.delete(listener)
    }
  }, [])
  return place
}

/** Lets plain links move within the page. Modified clicks and other sites stay the browser's. */
export function followLinks(event: MouseEvent): void {
  if (event.defaultPrevented || event.button !== 0) return
  if (event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return
  const link = (event.target as Element | null)?.closest?.('a')
  if (!link || link.target || link.hasAttribute('download') || link.origin !== location.origin)
    return
  if (link.pathname.startsWith('/api/')) return
  event.preventDefault()
  go(link.pathname + link.search)
  scrollTo(0, 0)
}
