import { lstatSync, readlinkSync, symlinkSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { openSerialLink } from '../../server/link/serial-link.ts'
import { doByHand } from '../../server/rig-host/hands-socket.ts'
import { startPracticeRig } from '../../server/rig-host/start-practice-rig.ts'
import { connectTo, startRig } from '../support/bench-at-work.ts'
import { columnOf, coast, drive, IN_REAL_TIME, planOf, requestOf } from '../support/plans.ts'
import { practiceMotor } from '../support/practice.ts'
import { scratchFolder } from '../support/scratch-store.ts'

const pushing = planOf([coast(0.02), drive(2, 0.15), coast(0.02)], { rateHz: 1000 })

test(
  'hands hold and release the shaft, from this program and through the socket beside the port',
  IN_REAL_TIME,
  async () => {
    const rig = await startRig()
    const { session, recorder } = await connectTo(() => rig.open())
    const fastest = async () => {
      await session.run(requestOf(pushing))
      return Math.max(...columnOf(recorder.runs.at(-1)!, 'speed').map(Math.abs))
    }
    expect(await fastest()).toBeGreaterThan(30)
    await rig.setShaft('locked', 1)
    expect(await fastest()).toBeLessThan(3)
    await doByHand(rig.path!, 'shaft free')
    expect(await fastest()).toBeGreaterThan(30)
    await expect(doByHand(rig.path!, 'shaft bent')).rejects.toThrow(/not something to do to a rig/)
  },
)

test('says where to hold the shaft when there are no hands beside the port', async () => {
  await expect(doByHand('/dev/null', 'shaft free')).rejects.toThrow(
    /type 'shaft free' where it runs/,
  )
})

test('a link leads to the pseudo-terminal, also after the plug was out, and is gone afterwards', async () => {
  const linkPath = join(scratchFolder(), 'rig')
  const rig = await startRig({ linkPath })
  expect(readlinkSync(linkPath)).toBe(rig.path)
  await rig.do({ act: 'unplug' })
  expect(rig.path).toBeNull()
  expect(lstatSync(linkPath, { throwIfNoEntry: false })).toBeUndefined()
  await rig.do({ act: 'plug' })
  expect(readlinkSync(linkPath)).toBe(rig.path)
  await (await openSerialLink(linkPath)).close()
  await rig.close()
  expect(lstatSync(linkPath, { throwIfNoEntry: false })).toBeUndefined()
})

test('replaces a link that an earlier rig left behind, and nothing else', async () => {
  const folder = scratchFolder()
  const left = join(folder, 'left')
  symlinkSync('/dev/pts/9999', left)
  const rig = await startRig({ linkPath: left })
  expect(readlinkSync(left)).toBe(rig.path)

  const taken = join(folder, 'taken')
  writeFileSync(taken, 'mine')
  const options = { motor: practiceMotor('dormouse-12'), seed: 1, linkPath: taken }
  await expect(startPracticeRig({ via: 'pseudo-terminal', ...options })).rejects.toThrow(
    /exists already; give --link a path that is free/,
  )
})

test('in-process, a rig whose plug is out cannot be opened', async () => {
  const rig = await startRig({ via: 'in-process' })
  await rig.do({ act: 'unplug' })
  await expect(connectTo(() => rig.open())).rejects.toThrow(/lost|closed|ended/)
})
