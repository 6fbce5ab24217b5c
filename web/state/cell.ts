import { useEffect, useState } from 'preact/hooks'

/** One value that several parts of the page read and are told of. */
export interface Cell<T> {
  get(): T
  set(value: T): void
  listen(listener: () => void): () => void
}

export function createCell<T>(initial: T): Cell<T> {
  let value = initial
  const listeners = new Set<() => void>()
  return {
    get: () => value,
    set(next) {
      if (Object.is(next, value)) return
      value = next
      for (const listener of [...listeners]) listener()
    },
    listen(listener) {
      listeners.add(listener)
      return () => {
        listeners.delete(listener)
      }
    },
  }
}

/** A text that this browser keeps until its window is closed: typed once a shift. */
export function rememberedCell(name: string): Cell<string> {
  const key = `rotorfit.${name}`
  const cell = createCell(sessionStorage.getItem(key) ?? '')
  cell.listen(() => sessionStorage.setItem(key, cell.get()))
  return cell
}

export function useCell<T>(cell: Cell<T>): T {
  const [value, setValue] = useState(cell.get)
  useEffect(() => {
    setValue(() => cell.get())
    return cell.listen(() => setValue(() => cell.get()))
  }, [cell])
  return value
}
