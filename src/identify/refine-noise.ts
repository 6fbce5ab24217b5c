import type { NoiseLevels } from '../motor/prepared-run.ts'
import type { JointModel, JointPoint, Member } from './joint-model.ts'

/** Variances may move by these factors from what the channels themselves showed. */
const LEAST_FACTOR = 0.25
const LARGEST_FACTOR = 1e6
/** First step in the logarithm of a variance, and where the search ends. */
const FIRST_STEP = 1
const LAST_STEP = 0.2

type Level = 'voltage' | 'current' | 'speed' | 'openVoltage' | 'torque'

/**
 * Noise levels by maximum likelihood at a fixed motor: for the locked runs and the others apart, the
 * variance of each channel and the power density of a disturbance of the torque, one after the other
 * along its logarithm. What the model leaves out (ripple, rough friction) ends up here as noise of the
 * channel or of the torque, so that no reading is trusted more than the whole run bears out.
 */
export function refineNoise(
  model: JointModel,
  point: JointPoint,
  first: readonly NoiseLevels[],
  sweeps: number,
): void {
  for (const group of groupsOf(model.members)) {
    const locked = group[0]!.run.shaft === 'locked'
    const levels: Level[] = locked
      ? ['current', 'voltage']
      : ['current', 'speed', 'openVoltage', 'torque', 'voltage']
    const index = group.map(member => model.members.indexOf(member))
    const cost = () => {
      let sum = 0
      for (const r of index) sum += runCost(model, point, r)
      return sum
    }
    let best = cost()
    for (let sweep = 0; sweep < sweeps; sweep++) {
      for (const level of levels) {
        best = searchLevel(model, index, first, level, best, cost, sweep === 0)
      }
    }
  }
}

function groupsOf(members: readonly Member[]): Member[][] {
  const locked = members.filter(member => member.run.shaft === 'locked')
  const free = members.filter(member => member.run.shaft !== 'locked')
  return [locked, free].filter(group => group.length > 0)
}

function runCost(model: JointModel, point: JointPoint, r: number): number {
  const observer = model.observers[r]!
  observer.lnResistanceOffset = point.offsets[r]!
  const sums = observer.setGains(point.motor, model.members[r]!.noise, model.choices.clip)
  const total = sums.logDeterminant + sums.cost
  return Number.isFinite(total) ? total : Number.POSITIVE_INFINITY
}

/** Steps along ln of one level, doubling uphill and halving at the top. */
function searchLevel(
  model: JointModel,
  index: readonly number[],
  first: readonly NoiseLevels[],
  level: Level,
  startCost: number,
  cost: () => number,
  coarse: boolean,
): number {
  const before = index.map(r => model.members[r]!.noise)
  const set = (shift: number) => {
    index.forEach((r, n) => {
      const origin = before[n]!
      model.members[r]!.noise = {
        ...origin,
        [level]: moved(origin[level], first[r]!, level, shift),
      }
    })
  }
  let best = startCost
  let at = 0
  let step: number = coarse ? FIRST_STEP : FIRST_STEP / 2
  let sense = 1
  let turned = false
  while (step >= LAST_STEP) {
    set(at + sense * step)
    const now = cost()
    if (now < best - 1e-6) {
      best = now
      at += sense * step
      step *= 2
      turned = true
    } else if (!turned) {
      sense = -sense
      turned = true
    } else {
      step /= 4
      turned = false
    }
  }
  set(at)
  // Gains stand for the levels last tried: bring them to those kept.
  cost()
  return best
}

/** The torque's disturbance begins at that of a white current of the channel's own noise. */
function moved(value: number, first: NoiseLevels, level: Level, shift: number): number {
  if (level === 'torque') {
    const least = first.torque
    if (value === 0) return shift > 0 ? least * Math.exp(shift - FIRST_STEP) : 0
    const next = value * Math.exp(shift)
    return next < least * 1e-3 ? 0 : next
  }
  const low = LEAST_FACTOR * first[level]
  const high = LARGEST_FACTOR * first[level]
  return Math.min(high, Math.max(low, value * Math.exp(shift)))
}
