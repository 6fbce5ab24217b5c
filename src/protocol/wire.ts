/** Numbers that firmware-protocol.md fixes; the clause stands beside each. */
export const WIRE = {
  /** P-13.1 */
  protocolVersion: 1,
  /** P-3.1: longest line, line feed included. */
  maxLineBytes: 1024,
  /** P-4.2: longest request, line feed included. */
  maxRequestBytes: 128,
  /** P-4.3: requests that may wait for their answers at one time. */
  maxOutstanding: 4,
  /** P-4.1 */
  maxId: 65_535,
  /** P-5.4: channels that a rig may declare. */
  maxChannels: 16,
  /** P-8.4: silence of the host after which an armed rig disarms. */
  watchdogMs: 300,
  /** P-11.1: from the line feed of a request to the first byte of its answer. */
  answerMs: 20,
  /** P-6.6, P-3.8: longest span of a block, and longest time that one line may take on the wire. */
  blockSpanMs: 20,
  lineMs: 20,
  /** P-10.2: how often and how long a host asks a rig that has just been opened. */
  identifyEveryMs: 500,
  identifyForMs: 5000,
} as const

export const BYTE = {
  tab: 0x09,
  lineFeed: 0x0a,
  carriageReturn: 0x0d,
  space: 0x20,
  quote: 0x22,
  star: 0x2a,
  minus: 0x2d,
  dot: 0x2e,
  zero: 0x30,
  nine: 0x39,
  tilde: 0x7e,
} as const
