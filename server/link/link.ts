/**
 * A line to a rig: bytes out, bytes in. Serial ports, the in-process practice rig and recorded
 * streams all look like this to the session, and one contract suite holds them to it.
 */
export interface Link {
  /** What a person calls it: the device path, or "practice rig". */
  readonly describe: string
  /**
   * Everything that arrives from now on, in order. Ends when the link is closed from this side or
   * the signal aborts; throws a `LinkLost` when the other side has gone. One reader at a time.
   */
  bytes(signal: AbortSignal): AsyncIterable<Uint8Array>
  /** Resolves once the operating system has taken the bytes; throws a `LinkLost` when it cannot. */
  send(bytes: Uint8Array): Promise<void>
  /** Idempotent, and never hangs: also when the device has already vanished. */
  close(): Promise<void>
}

/** Opens the same link anew: at the first connection, and again after a cable was pulled. */
export type LinkOpener = () => Promise<Link>
