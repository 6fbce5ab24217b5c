import { FAKE_LIMITS, FakeHardware } from '../support/fake-hardware.ts'
import { bodyOf, closed, type LineTampering } from '../support/simulated-link.ts'

/** A rig that breaks the protocol in one way, and the clauses that have to be found broken. */
export interface BrokenRig {
  readonly name: string
  readonly breaks: readonly string[]
  readonly tamper: () => LineTampering
  readonly hardware?: () => FakeHardware
}

/** Lines of the rig rewritten, checksums made right. */
const says = (pattern: RegExp, by: string | ((line: string) => string)): (() => LineTampering) => {
  return () => ({
    fromRig: line => {
      const body = bodyOf(line)
      if (!pattern.test(body)) return [line]
      return [closed(typeof by === 'string' ? body.replace(pattern, by) : by(body))]
    },
  })
}

/** Lines as they stand, checksum and all, replaced. */
const emits = (pattern: RegExp, by: (line: string) => readonly string[]): (() => LineTampering) => {
  return () => ({ fromRig: line => (pattern.test(line) ? by(line) : [line]) })
}

/** Requests rewritten before the rig hears them. */
const hears = (pattern: RegExp, by: string | ((body: string) => string)): (() => LineTampering) => {
  return () => ({
    toRig: line => {
      const body = bodyOf(line)
      if (!pattern.test(body)) return [line]
      return [closed(typeof by === 'string' ? body.replace(pattern, by) : by(body))]
    },
  })
}

/** Few samples, so that many rigs are soon checked. */
export const sparseHardware = () => {
  const hardware = new FakeHardware()
  hardware.periodsNs = [500_000, 5_000_000, 50_000_000]
  return hardware
}

const slowWatchdog = () => {
  const hardware = sparseHardware()
  hardware.limits = { ...FAKE_LIMITS, watchdogSec: 0.45 }
  return hardware
}

const pulsing = () => {
  const hardware = sparseHardware()
  const take = hardware.takeIndexPulses.bind(hardware)
  hardware.takeIndexPulses = () => [...take(), { timeSec: hardware.timeSec, count: 7 }]
  return hardware
}

const addTo = (field: number, by: number) => (body: string) => {
  const parts = body.split(' ')
  parts[field] = String((Number(parts[field]) + by) >>> 0)
  return parts.join(' ')
}

export const BROKEN_RIGS: readonly BrokenRig[] = [
  {
    name: 'sends lines of more than 1024 bytes',
    breaks: ['P-3.1'],
    tamper: says(/ status /, body => `${body} note="${'x'.repeat(1000)}"`),
  },
  {
    name: 'sends control characters',
    breaks: ['P-3.2'],
    tamper: emits(/ status /, line => [line.replace('status', 'sta\x1bus')]),
  },
  {
    name: 'gets its checksums wrong',
    breaks: ['P-3.3'],
    tamper: emits(/^A \d+ ERR/, line => [line.replace(/.$/, c => (c === '0' ? '1' : '0'))]),
  },
  { name: 'sends kinds that are not known', breaks: ['P-3.4'], tamper: says(/^E /, 'Z ') },
  {
    name: 'ignores keys that it does not know',
    breaks: ['P-3.5'],
    tamper: hears(/ please=1/, ''),
  },
  { name: 'writes leading zeros', breaks: ['P-3.6'], tamper: says(/^E /, 'E 0') },
  {
    name: 'takes half a millisecond for a whole one',
    breaks: ['P-3.6'],
    tamper: hears(/duration-ms=10\.5/, 'duration-ms=10'),
  },
  {
    name: 'obeys lines without checksum',
    breaks: ['P-3.7'],
    tamper: () => ({ toRig: line => [/^Q \d+ alive$/.test(line) ? closed(line) : line] }),
  },
  {
    name: 'does not count damaged lines',
    breaks: ['P-3.7'],
    tamper: says(/bad-lines=\d+/, 'bad-lines=0'),
  },
  {
    name: 'lets answers wait behind samples',
    breaks: ['P-3.8', 'P-11.2'],
    tamper: () => {
      let streaming = false
      return {
        delayMs: line => {
          if (/^[SB] /.test(line)) streaming = true
          else if (/^A \d+ OK .*dropped/.test(line)) streaming = false
          return streaming && line.startsWith('A ') ? 90 : 0
        },
      }
    },
  },
  {
    name: 'keeps only a byte of the id',
    breaks: ['P-4.1'],
    tamper: says(/^A (\d+)/, body => body.replace(/\d+/, id => String(Number(id) % 256 || 1))),
  },
  {
    name: 'cannot take long requests',
    breaks: ['P-4.2'],
    tamper: () => ({ toRig: line => (line.length > 110 ? [] : [line]) }),
  },
  {
    name: 'loses the fourth request of four',
    breaks: ['P-4.3', 'P-4.4'],
    tamper: () => {
      let before = ''
      return {
        toRig: line => {
          const lost = / stop\*/.test(before) && / identify\*/.test(line)
          before = line
          return lost ? [] : [line]
        },
      }
    },
  },
  { name: 'answers twice', breaks: ['P-4.4'], tamper: emits(/^A \d+ OK/, line => [line, line]) },
  { name: 'does not answer', breaks: ['P-4.4'], tamper: emits(/^A \d+ ERR/, () => []) },
  {
    name: 'does not like to be asked twice',
    breaks: ['P-4.5'],
    tamper: () => {
      let before = ''
      return {
        toRig: line => {
          const verb = bodyOf(line).replace(/^Q \d+ /, '')
          const again = verb === before && /^(disarm|limits)$/.test(verb)
          before = verb
          return [again ? closed(bodyOf(line).replace(verb, 'launch')) : line]
        },
      }
    },
  },
  {
    name: 'does not know all verbs',
    breaks: ['P-4.6'],
    tamper: hears(/burst-channels/, 'bursts'),
  },
  {
    name: 'leaves the counter out of its answer',
    breaks: ['P-4.7', 'P-6.9'],
    tamper: says(/^(A \d+ OK time-us=\d+) sequence=\d+$/m, '$1'),
  },
  { name: 'miscounts its declarations', breaks: ['P-5.1'], tamper: says(/lines=3/, 'lines=4') },
  {
    name: 'has a name that is too long',
    breaks: ['P-5.2'],
    tamper: says(/model="/, `model="${'m'.repeat(40)}`),
  },
  {
    name: 'changes its serial number',
    breaks: ['P-5.2'],
    tamper: () => {
      let asked = 0
      return {
        fromRig: line =>
          / identity /.test(line)
            ? [closed(bodyOf(line).replace(/serial="/, `serial="${asked++}-`))]
            : [line],
      }
    },
  },
  {
    name: 'changes its scales with the sample period',
    breaks: ['P-5.3'],
    tamper: () => {
      let set = false
      return {
        toRig: line => {
          set ||= / sampling /.test(line)
          return [line]
        },
        fromRig: line =>
          set && / channel /.test(line)
            ? [closed(bodyOf(line).replace(/scale=\S+/, 'scale=0.5'))]
            : [line],
      }
    },
  },
  {
    name: 'measures no current',
    breaks: ['P-5.4'],
    tamper: says(/quantity=current unit=A/, 'quantity=torque unit=N.m'),
  },
  { name: 'has a scale of zero', breaks: ['P-5.5'], tamper: says(/scale=\S+/, 'scale=0') },
  {
    name: 'leaves the noise of a channel out',
    breaks: ['P-5.5'],
    tamper: says(/ noise=\S+/, ''),
  },
  {
    name: 'carries no rate at all',
    breaks: ['P-5.6'],
    tamper: says(/decimal=. block=./, 'decimal=0 block=0'),
  },
  {
    name: 'has limits that contradict each other',
    breaks: ['P-5.7'],
    tamper: says(/bus-low-mv=\d+/, 'bus-low-mv=40000'),
  },
  {
    name: 'has a watchdog that sleeps for a second',
    breaks: ['P-5.7'],
    tamper: says(/watchdog-ms=300/, 'watchdog-ms=1000'),
  },
  {
    name: 'shows a set voltage in coast',
    breaks: ['P-5.8'],
    tamper: says(/set-mv=0 s/, 'set-mv=5 s'),
  },
  { name: 'has no zero for its position', breaks: ['P-5.9'], tamper: hears(/ zero$/, ' launch') },
  {
    name: 'takes the nearest period instead of refusing',
    breaks: ['P-6.1'],
    tamper: hears(/period-ns=500001/, 'period-ns=500000'),
  },
  {
    name: 'sends more channels than asked for',
    breaks: ['P-6.2'],
    tamper: hears(/channels=1$/, 'channels=3'),
  },
  {
    name: 'sends blocks where lines were asked for',
    breaks: ['P-6.3'],
    tamper: hears(/format=decimal/, 'format=block'),
  },
  {
    name: 'has a clock that is a tenth too fast',
    breaks: ['P-6.4'],
    tamper: says(/^A \d+ OK time-us=/, body =>
      body.replace(/time-us=(\d+)/, (_, us) => `time-us=${Math.floor(1.1 * Number(us))}`),
    ),
  },
  {
    name: 'sends lines where blocks were asked for',
    breaks: ['P-6.5'],
    tamper: hears(/format=block/, 'format=decimal'),
  },
  {
    name: 'samples at a twentieth of the period it declares',
    breaks: ['P-6.6', 'P-11.3'],
    tamper: () => ({
      fromRig: says(/ rate period-ns=500000 /, ' rate period-ns=10000000 ')().fromRig!,
      toRig: hears(/period-ns=10000000 /, 'period-ns=500000 ')().toRig!,
    }),
  },
  {
    name: 'sends blocks in the wrong order',
    breaks: ['P-6.7'],
    tamper: () => {
      let held: string | null = null
      return {
        fromRig: line => {
          if (!line.startsWith('B ')) return [line]
          if (held === null && Number(line.split(' ')[1]) % 5 === 0) {
            held = line
            return []
          }
          const out = held === null ? [line] : [line, held]
          held = null
          return out
        },
      }
    },
  },
  {
    name: 'loses samples and says nothing',
    breaks: ['P-6.8', 'P-6.10', 'P-7.6'],
    tamper: emits(/^B \d*[37] /, () => []),
  },
  {
    name: 'starts a stream that runs already',
    breaks: ['P-6.9'],
    tamper: () => {
      let on = false
      return {
        toRig: line => {
          const again = on && / stream mode=on/.test(line)
          if (/ stream /.test(line)) on = / mode=on/.test(line)
          return [again ? closed(bodyOf(line).replace('stream mode=on', 'alive')) : line]
        },
      }
    },
  },
  {
    name: 'miscounts what it dropped',
    breaks: ['P-6.10', 'P-9.3'],
    tamper: says(/dropped=\d+/, 'dropped=3'),
  },
  {
    name: 'sends samples after it was stopped',
    breaks: ['P-6.10'],
    tamper: () => ({ delayMs: line => (line.startsWith('B ') ? 30 : 0) }),
  },
  {
    name: 'sends counts that it says it cannot have',
    breaks: ['P-6.11'],
    tamper: says(/kind=modulo bits=16 low=0 high=65535/, 'kind=unsigned bits=16 low=0 high=50'),
  },
  {
    name: 'is half a millisecond off with the times of its events',
    breaks: ['P-7.1'],
    tamper: says(/^E \d+ \d+ bridge mode=drive/, addTo(2, 500)),
  },
  {
    name: 'keeps its events to itself for a while',
    breaks: ['P-7.1'],
    tamper: () => ({ delayMs: line => (line.startsWith('E ') ? 80 : 0) }),
  },
  { name: 'loses events', breaks: ['P-7.2'], tamper: emits(/^E \d*[369] /, () => []) },
  {
    name: 'reports another voltage than was set',
    breaks: ['P-7.3'],
    tamper: says(/mode=drive set-mv=\d+/, 'mode=drive set-mv=1'),
  },
  {
    name: 'forgets whose drive ended',
    breaks: ['P-7.4'],
    tamper: says(/drive-ended id=\d+/, 'drive-ended id=1'),
  },
  {
    name: 'gives the watchdog in milliseconds',
    breaks: ['P-7.5'],
    tamper: says(/code=watchdog value=\S+ limit=0.3/, 'code=watchdog value=300 limit=300'),
  },
  {
    name: 'reports every index pulse',
    breaks: ['P-7.7'],
    hardware: pulsing,
    tamper: emits(/ index count/, line => [line, line, line]),
  },
  {
    name: 'has a boot cause of its own',
    breaks: ['P-7.8'],
    tamper: says(/cause=power/, 'cause=magic'),
  },
  {
    name: 'captures less than asked for',
    breaks: ['P-7.9', 'P-9.4'],
    tamper: says(/burst-ready samples=\d+/, 'burst-ready samples=7'),
  },
  {
    name: 'accepts a drive while disarmed',
    breaks: ['P-8.1', 'P-8.5'],
    tamper: says(/ERR not-armed.*/, 'OK time-us=5'),
  },
  { name: 'does not arm', breaks: ['P-8.2'], tamper: says(/armed=1/, 'armed=0') },
  {
    name: 'drives a little longer than told',
    breaks: ['P-8.3'],
    tamper: hears(/duration-ms=150/, 'duration-ms=153'),
  },
  {
    name: 'lets go of the motor between two commands',
    breaks: ['P-8.3'],
    tamper: hears(/duration-ms=120/, 'duration-ms=50'),
  },
  {
    name: 'takes currents beyond its limit',
    breaks: ['P-8.3'],
    tamper: hears(/current-ma=12001/, 'current-ma=12000'),
  },
  {
    name: 'has a slower watchdog than it says',
    breaks: ['P-8.4'],
    hardware: slowWatchdog,
    tamper: says(/watchdog-ms=450/, 'watchdog-ms=300'),
  },
  {
    name: 'says nothing of its watchdog',
    breaks: ['P-8.4'],
    tamper: emits(/ trip code=watchdog/, () => []),
  },
  {
    name: 'trips below the limit',
    breaks: ['P-8.5'],
    tamper: says(/code=over-current value=\S+/, 'code=over-current value=0.0005'),
  },
  { name: 'refuses to stop', breaks: ['P-8.7'], tamper: hears(/ stop$/, ' launch') },
  {
    name: 'stops late',
    breaks: ['P-8.7'],
    tamper: hears(/ stop$/, ' alive'),
  },
  {
    name: 'loses time while it streams',
    breaks: ['P-8.8'],
    tamper: () => {
      let on = false
      return {
        toRig: line => {
          if (/ stream /.test(line)) on = / mode=on/.test(line)
          return [on ? closed(bodyOf(line).replace('duration-ms=150', 'duration-ms=152')) : line]
        },
      }
    },
  },
  { name: 'gives its burst wrong times', breaks: ['P-9.1'], tamper: says(/^U /, addTo(2, 50)) },
  {
    name: 'lets a burst be disturbed',
    breaks: ['P-9.2'],
    tamper: hears(/burst .*trigger=bridge$/, 'alive'),
  },
  {
    name: 'drops samples of the stream for a burst',
    breaks: ['P-9.3'],
    tamper: says(/dropped=0/, 'dropped=12'),
  },
  {
    name: 'captures the bridge too late',
    breaks: ['P-9.4'],
    tamper: says(/^E \d+ \d+ burst-ready/, addTo(2, 60)),
  },
  { name: 'loses pieces of an upload', breaks: ['P-9.5'], tamper: emits(/^U 0 /, () => []) },
  {
    name: 'sends an upload out that was replaced',
    breaks: ['P-9.6'],
    tamper: () => ({ delayMs: line => (/^U 0 /.test(line) ? 30 : 0) }),
  },
  {
    name: 'declares one channel of a burst',
    breaks: ['P-9.7'],
    tamper: () => {
      let id = ''
      return {
        toRig: line => {
          id = / burst-channels/.test(line) ? line.split(' ')[1]! : id
          return [line]
        },
        fromRig: line => (line.startsWith(`D ${id} channel index=0`) ? [] : [line]),
      }
    },
  },
  {
    name: 'starts in the middle of its boot loader’s words',
    breaks: ['P-10.1'],
    tamper: emits(/ boot cause/, line => [`\x00loader v2 ${line}`]),
  },
  {
    name: 'needs a second line feed after noise',
    breaks: ['P-10.3'],
    tamper: () => {
      let noisy = false
      return {
        toRig: line => {
          const lost = noisy && line !== ''
          noisy = line.includes('noise') || (noisy && line === '')
          return lost ? [] : [line]
        },
      }
    },
  },
  {
    name: 'thinks for a long time',
    breaks: ['P-11.1'],
    tamper: () => ({ delayMs: line => (/^[AD] /.test(line) ? 40 : 0) }),
  },
  {
    name: 'has a sample clock that wanders',
    breaks: ['P-11.3'],
    tamper: says(/^B \d\d\d+ /, addTo(2, 9)),
  },
  {
    name: 'starts a stream by a request it refused',
    breaks: ['P-12.1'],
    tamper: () => ({
      toRig: line => (/ launch\*/.test(line) ? [line, closed('Q 9 stream mode=on')] : [line]),
    }),
  },
  {
    name: 'has its own error codes',
    breaks: ['P-12.2'],
    tamper: says(/ERR unknown-verb/, 'ERR bad-value'),
  },
  {
    name: 'explains itself at length',
    breaks: ['P-12.3'],
    tamper: says(/ERR .*/, body => body + ' and so on'.repeat(9)),
  },
  { name: 'speaks another version', breaks: ['P-13.1'], tamper: says(/protocol=1/, 'protocol=2') },
]
