/**
 * The clauses of firmware-protocol.md, and for those that a line cannot show why not. A test holds
 * this list to the page.
 */
export interface Clause {
  readonly clause: string
  readonly title: string
  /** Null where check-rig can see it; else what it would take. */
  readonly unseen: string | null
}

const FOR_HOSTS = 'binds hosts'
const DEFINITION = 'a definition'
const INSTRUMENTS = 'takes instruments at the bridge'

const TABLE: readonly (readonly [clause: string, title: string, unseen?: string])[] = [
  ['P-1.1', 'the rig keeps its limits whatever the host does', 'shown by section 8'],
  ['P-1.2', 'signs', 'needs somebody who looks at the shaft'],
  ['P-1.3', 'coast, brake, drive', DEFINITION],
  ['P-1.4', 'count, sample, event', DEFINITION],
  ['P-2.1', 'asynchronous serial', 'shown by its working at all'],
  ['P-2.2', 'modem lines are not acted on', 'the port is not opened anew'],
  ['P-2.3', 'the line may lose bytes', DEFINITION],
  ['P-3.1', 'lines of at most 1024 bytes'],
  ['P-3.2', 'printable bodies'],
  ['P-3.3', 'checksums'],
  ['P-3.4', 'kinds of line'],
  ['P-3.5', 'fields'],
  ['P-3.6', 'numbers'],
  ['P-3.7', 'damaged lines are dropped and counted'],
  ['P-3.8', 'answers go before samples'],
  ['P-4.1', 'the id is copied'],
  ['P-4.2', 'requests of up to 128 bytes'],
  ['P-4.3', 'four requests at once'],
  ['P-4.4', 'one answer each, in order'],
  ['P-4.5', 'asking twice is safe'],
  ['P-4.6', 'all verbs are known'],
  ['P-4.7', 'further fields of an answer'],
  ['P-5.1', 'declarations belong to an answer'],
  ['P-5.2', 'identity'],
  ['P-5.3', 'channels at the period in force'],
  ['P-5.4', 'which channels there are'],
  ['P-5.5', 'what a channel declares'],
  ['P-5.6', 'rates'],
  ['P-5.7', 'limits'],
  ['P-5.8', 'status'],
  ['P-5.9', 'zero of the position'],
  ['P-6.1', 'sampling'],
  ['P-6.2', 'selected channels'],
  ['P-6.3', 'decimal samples'],
  ['P-6.4', 'the rig’s time'],
  ['P-6.5', 'blocks'],
  ['P-6.6', 'blocks span at most 20 ms'],
  ['P-6.7', 'samples are in order, losses are said'],
  ['P-6.8', 'counters'],
  ['P-6.9', 'stream on'],
  ['P-6.10', 'stream off'],
  ['P-6.11', 'counts within their range'],
  ['P-7.1', 'events come in time'],
  ['P-7.2', 'events are counted'],
  ['P-7.3', 'bridge'],
  ['P-7.4', 'drive-ended'],
  ['P-7.5', 'trip'],
  ['P-7.6', 'overrun'],
  ['P-7.7', 'index'],
  ['P-7.8', 'boot'],
  ['P-7.9', 'burst-ready'],
  ['P-8.1', 'no driving while disarmed'],
  ['P-8.2', 'arming'],
  ['P-8.3', 'drive commands'],
  ['P-8.4', 'watchdog'],
  ['P-8.5', 'trips'],
  ['P-8.6', 'braking current', 'needs a turning motor and a known current'],
  ['P-8.7', 'stop and disarm'],
  ['P-8.8', 'limits hold under load'],
  ['P-8.9', 'the bridge opens by hardware', INSTRUMENTS],
  ['P-9.1', 'burst'],
  ['P-9.2', 'while a burst is under way'],
  ['P-9.3', 'the stream goes on during a burst'],
  ['P-9.4', 'what a burst holds'],
  ['P-9.5', 'upload'],
  ['P-9.6', 'uploads among other lines'],
  ['P-9.7', 'channels of a burst'],
  ['P-10.1', 'start'],
  ['P-10.2', 'how a host begins', FOR_HOSTS],
  ['P-10.3', 'after noise'],
  ['P-10.4', 'nothing survives a restart', 'the rig is not restarted'],
  ['P-10.5', 'opening and closing change nothing', 'the port is not opened anew'],
  ['P-11.1', 'answers within 20 ms'],
  ['P-11.2', 'also at the fastest rate'],
  ['P-11.3', 'the sample period'],
  ['P-12.1', 'a refused request changes nothing'],
  ['P-12.2', 'error codes'],
  ['P-12.3', 'words of errors'],
  ['P-13.1', 'protocol version'],
]

export const CLAUSES: readonly Clause[] = TABLE.map(([clause, title, unseen]) => ({
  clause,
  title,
  unseen: unseen ?? null,
}))
