/** The rig's end of a link: what a practice rig is plugged into. */
export interface Wire {
  /** Bytes taken by `write` that the other side has not taken yet. */
  readonly backlogBytes: number
  onBytes(listener: (bytes: Uint8Array) => void): void
  write(bytes: Uint8Array): void
  close(): void
}
