import type { Link } from '../../server/link/link.ts'
import { openSerialLink } from '../../server/link/serial-link.ts'
import { connectBench } from '../../server/session/connect.ts'
import { drive, memoryRecorder, planOf, requestOf } from '../support/plans.ts'

/**
 * A host that drives a motor until somebody kills it. Once it does, it prints the rig's time of every
 * answer that it gets, in microseconds: what it prints last is when the rig last heard of it.
 */
const [path = ''] = process.argv.slice(2)
let isDriving = false

const overheard = (link: Link): Link => ({
  describe: link.describe,
  async *bytes(signal) {
    for await (const chunk of link.bytes(signal)) {
      const answers = Buffer.from(chunk)
        .toString('latin1')
        .matchAll(/A \d+ OK time-us=(\d+)\*/g)
      for (const [, timeUs] of answers) if (isDriving) process.stdout.write(`${timeUs}\n`)
      yield chunk
    }
  },
  send: bytes => link.send(bytes),
  close: () => link.close(),
})

const session = await connectBench({
  open: async () => overheard(await openSerialLink(path)),
  recorder: memoryRecorder().begin,
})
session.listen(event => {
  if (event.type === 'envelope' && event.toSec > 0.2) isDriving = true
})
await session.run(requestOf(planOf([drive(3, 20)])))
