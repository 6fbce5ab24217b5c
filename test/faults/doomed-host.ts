import { openSerialLink } from '../../server/link/serial-link.ts'
import { connectBench } from '../../server/session/connect.ts'
import { drive, memoryRecorder, planOf, requestOf } from '../support/plans.ts'

/** A host that drives a motor until somebody kills it. Says `driving` once it does. */
const [path = ''] = process.argv.slice(2)
const recorder = memoryRecorder()
const session = await connectBench({ open: () => openSerialLink(path), recorder: recorder.begin })
session.listen(event => {
  if (event.type === 'envelope' && event.toSec > 0.2) process.stdout.write('driving\n')
})
await session.run(requestOf(planOf([drive(3, 20)])))
