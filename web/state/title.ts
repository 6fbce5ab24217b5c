import { useEffect } from 'preact/hooks'

/** The window is named after what is on screen. */
export function usePageTitle(title: string | null): void {
  useEffect(() => {
    document.title = title ? `${title} – rotorfit` : 'rotorfit'
  }, [title])
}
