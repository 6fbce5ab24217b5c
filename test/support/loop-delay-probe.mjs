import { existsSync, readFileSync } from 'node:fs'

// Preloaded into a process under test: how long its main thread kept the event loop from coming round,
// since it was last asked. Counted is the time in which it ran, where the system tells (Linux does): how
// long it stood in the queue for a core, or behind a thread that does, is other programs' work.
const TICK_MS = 5
const scheduled = `/proc/self/task/${process.pid}/schedstat`
const ranMs = existsSync(scheduled)
  ? () => Number(readFileSync(scheduled, 'utf8').split(' ')[0]) / 1e6
  : () => performance.now()

let worst = { heldMs: 0, turns: 0 }
let before = ranMs()
setInterval(() => {
  const now = ranMs()
  worst = { heldMs: Math.max(worst.heldMs, now - before), turns: worst.turns + 1 }
  before = now
}, TICK_MS).unref()
process.on('message', () => {
  process.send(worst)
  worst = { heldMs: 0, turns: 0 }
})
process.channel.unref()
