import { seededUniform } from '../../src/base/random.ts'
import { crc16, crcText } from '../../src/protocol/crc.ts'
import { RigReader } from '../../src/protocol/rig-reader.ts'
import { latin, mutant } from '../support/mutant.ts'
import { asBytes, pageExamples } from '../support/protocol-page.ts'
import { CHANNELS } from './rig-lines.ts'
import { type SpeedRow, spentOn } from './section.ts'

const MUTANTS = 1_000_000
const BATCH = 10_000
const LINE_FEED = Uint8Array.of(10)

/** By a path that shares nothing with the reader's but the table of the checksum. */
function checksumHolds(line: Uint8Array): boolean {
  const parts = /^([^*]+)\*([0-9A-F]{4})$/s.exec(
    Buffer.from(line).toString('latin1').replace(/\r$/, ''),
  )
  return parts !== null && crcText(crc16(latin(parts[1]!))) === parts[2]
}

/**
 * A million damaged lines: every one accepted or rejected with its reason, none accepted with a wrong
 * checksum. Fails where that does not hold; tells how fast they are judged beside whole lines.
 */
export async function measure(seed: number): Promise<SpeedRow[]> {
  const uniform = seededUniform(seed)
  const whole = pageExamples().flatMap(e => (e.from === 'rig' ? [asBytes([e.line], '')] : []))
  const pick = () => whole[Math.floor(uniform() * whole.length)]!
  const damaged = await judge(() => mutant(pick(), uniform))
  const good = await judge(pick)
  const reasons = [...damaged.rejectedBy]
    .sort(([, a], [, b]) => b - a)
    .map(([code, count]) => `${code} ${count}`)
  process.stderr.write(
    `  ${MUTANTS} damaged lines: ${damaged.accepted} accepted with a true checksum, ${damaged.empty} empty, rejected: ${reasons.join(', ')}\n`,
  )
  return [
    {
      what: `${MUTANTS} damaged lines judged`,
      value: MUTANTS / damaged.seconds,
      unit: 'lines/CPU s',
      against: 'the same lines whole',
      ratio: good.seconds / damaged.seconds,
    },
  ]
}

async function judge(next: () => Uint8Array) {
  let accepted = 0
  let rejected = 0
  let empty = 0
  let seconds = 0
  const reader = new RigReader({
    samples: () => accepted++,
    upload: () => accepted++,
    message: () => accepted++,
    fault: () => rejected++,
  })
  reader.setLayout(CHANNELS, CHANNELS)
  for (let done = 0; done < MUTANTS; done += BATCH) {
    const lines = Array.from({ length: BATCH }, next)
    const verdicts: number[] = []
    const { processorSec } = await spentOn(() => {
      for (const line of lines) {
        const before = accepted
        const total = accepted + rejected
        reader.push(line)
        reader.push(LINE_FEED)
        verdicts.push(2 * (accepted + rejected - total) + (accepted - before))
      }
    })
    seconds += processorSec
    for (const [i, line] of lines.entries()) {
      const isEmpty = line.length === 0 || (line.length === 1 && line[0] === 13)
      if (isEmpty) empty++
      // 2: rejected once. 3: accepted once.
      if (verdicts[i] !== 2 && verdicts[i] !== 3 && !isEmpty)
        throw complaint('no one verdict', line)
      if (verdicts[i] === 3 && !checksumHolds(line))
        throw complaint('wrong checksum accepted', line)
    }
  }
  const { rejectedBy } = reader.counters
  const reasons = [...rejectedBy.values()].reduce((a, b) => a + b, 0)
  if (reasons !== rejected || accepted + rejected + empty !== MUTANTS) {
    throw new Error(`${accepted} + ${rejected} + ${empty} of ${MUTANTS}, ${reasons} with a reason`)
  }
  return { accepted, empty, rejectedBy, seconds }
}

const complaint = (what: string, line: Uint8Array) =>
  new Error(`${what}: ${JSON.stringify(Buffer.from(line).toString('latin1'))}`)
