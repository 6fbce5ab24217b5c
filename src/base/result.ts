/** The outcome of a step that may fail on its input: failure is a value, never an exception. */
export type Result<T, E> =
  | { readonly ok: true; readonly value: T }
  | { readonly ok: false; readonly error: E }

export const success = <T>(value: T): { readonly ok: true; readonly value: T } => ({
  ok: true,
  value,
})

export const failure = <E>(error: E): { readonly ok: false; readonly error: E } => ({
  ok: false,
  error,
})
