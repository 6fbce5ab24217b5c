import { spawn } from 'node:child_process'
import { mkdtempSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { openSerialLink } from '../../server/link/serial-link.ts'
import { openRecorder } from '../../server/recorder/open-recorder.ts'
import { TerminalRig } from '../../server/rig-host/terminal-rig.ts'
import { connectBench } from '../../server/session/connect.ts'
import { openStore } from '../../server/store/open-store.ts'
import { coast, planOf, requestOf } from '../support/plans.ts'
import { practiceMotor } from '../support/practice.ts'

/**
 * A rig that fills a 3 Mbaud line (six channels, 20 000 samples a second: 300 kB/s), logged into a
 * store for as long as wanted:
 *
 *   npx tsx test/studies/soak.ts [minutes, 10 unless given]
 *
 * The rig lives in a process of its own, so that the share of a core is that of log and store alone.
 */
const RATE_HZ = 20_000
const REPORT_MS = 10_000

const [argument = '10'] = process.argv.slice(2)
if (argument === 'rig') hostRig()
else await soak(Number(argument))

function hostRig(): void {
  const bench = { position: true, torque: true, windingTemperature: true }
  const rig = new TerminalRig({
    motor: practiceMotor('brindle-12'),
    seed: 1,
    bench,
    linkPath: null,
  })
  process.stdout.write(`${rig.path}\n`)
  process.stdin.on('end', () => {
    process.stderr.write(`the rig's clock fell behind by ${rig.slippedSec.toFixed(3)} s\n`)
    rig.close()
  })
  process.stdin.resume()
}

async function soak(minutes: number): Promise<void> {
  if (!(minutes > 0)) throw new RangeError(`minutes = ${argument}; must be a number above 0`)
  const child = spawn('npx', ['tsx', import.meta.filename, 'rig'], {
    stdio: ['pipe', 'pipe', 'inherit'],
  })
  const path = await new Promise<string>(resolve =>
    createInterface({ input: child.stdout }).once('line', resolve),
  )
  const folder = mkdtempSync(join(tmpdir(), 'rotorfit-soak-'))
  const file = join(folder, 'soak.rotorfit')
  const store = openStore(file, { now: Date.now })
  const motor = store.motors.ensure('soak')
  const recorder = await openRecorder({ file })
  const session = await connectBench({
    open: () => openSerialLink(path),
    recorder: recorder.begin,
  })

  const startMs = performance.now()
  let last = { ms: startMs, cpu: process.cpuUsage(), ...session.counters }
  console.log('  min    kB/s   samples      lost  rejected  core %  memory MB')
  const timer = setInterval(() => {
    const now = { ms: performance.now(), cpu: process.cpuUsage(), ...session.counters }
    const sec = (now.ms - last.ms) / 1000
    const cpuSec = (now.cpu.user + now.cpu.system - last.cpu.user - last.cpu.system) / 1e6
    const columns = [
      ((now.ms - startMs) / 60_000).toFixed(2).padStart(5),
      ((now.bytes - last.bytes) / sec / 1000).toFixed(1).padStart(7),
      String(now.samples).padStart(9),
      String(now.samplesLost).padStart(9),
      String(now.linesRejected).padStart(9),
      ((100 * cpuSec) / sec).toFixed(1).padStart(7),
      (process.memoryUsage().rss / 1e6).toFixed(0).padStart(10),
    ]
    console.log(columns.join(' '))
    last = now
  }, REPORT_MS)

  const cpuBefore = process.cpuUsage()
  const plan = planOf([coast(minutes * 60)], { kind: 'zero', rateHz: RATE_HZ })
  const outcome = await session.run({ ...requestOf(plan), motor })
  clearInterval(timer)
  const { user, system } = process.cpuUsage(cpuBefore)
  const sec = (performance.now() - startMs) / 1000
  await session.close()
  await recorder.close()
  const record = store.runs.get(outcome.runId)
  store.close()
  const { samples, samplesLost, bytes } = outcome.counters
  console.log(
    [
      `ended: ${outcome.ending} (${outcome.text})`,
      `${samples} samples came, ${samplesLost} were lost, ${record.sampleCount} are stored`,
      `${(bytes / sec / 1000).toFixed(1)} kB/s; ${((user + system) / 1e4 / sec).toFixed(1)} % of a core`,
      `${(statSync(file).size / samples).toFixed(2)} bytes a sample on disk, ${record.channels.length * 2} of raw counts`,
    ].join('\n'),
  )
  rmSync(folder, { recursive: true })
  child.stdin.end()
}
