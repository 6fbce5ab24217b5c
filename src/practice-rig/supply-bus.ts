import type { PracticeSupply } from './bench.ts'

/**
 * Bus voltage after `span` seconds in which the bridge drew `bridgeAmp`: the supply behind its
 * resistance charges the bus capacitance (exact for constant current), within its current limit, and
 * backwards only if it sinks.
 */
export function advanceBus(
  supply: PracticeSupply,
  busVolt: number,
  openVolt: number,
  bridgeAmp: number,
  spanSec: number,
): number {
  const { resistanceOhm, busFarad, limitAmp } = supply
  const target = openVolt - resistanceOhm * bridgeAmp
  const decay = resistanceOhm > 0 ? Math.exp(-spanSec / (resistanceOhm * busFarad)) : 0
  const settled = target + (busVolt - target) * decay
  const supplyAmp = bridgeAmp + (busFarad * (settled - busVolt)) / spanSec
  const lowest = supply.sinks ? -limitAmp : 0
  const allowed = Math.min(limitAmp, Math.max(lowest, supplyAmp))
  return allowed === supplyAmp ? settled : busVolt + ((allowed - bridgeAmp) * spanSec) / busFarad
}
