import { TOUCHABLE_VOLT } from './limits.ts'

/**
 * The usual cautions before a motor is driven on a bench, in our own words. They replace no risk
 * assessment, no local rule and no qualified person. The standards that practitioners go by:
 * ISO 12100, IEC 60204-1, ISO 13850, ISO 13849-1, ISO 14120, ISO 13732-1, IEC 61010-1 (from memory).
 */
export interface Caution {
  readonly id: string
  readonly title: string
  readonly text: string
}

export const CAUTIONS = [
  {
    id: 'rules-first',
    title: 'Local rules and qualified people come first',
    text: 'Where the rules of your site or the law say more than this page, they hold. Only people who may run a motor bench run this one; where energy is stored, not alone.',
  },
  {
    id: 'no-emergency-stop',
    title: 'The stop control is no emergency stop',
    text: 'Stop here is a message to the rig by way of software. Have a hard-wired emergency stop within reach that cuts the supply with all software dead (ISO 13850), and try it before the first test.',
  },
  {
    id: 'extra-low-voltage',
    title: `Above ${TOUCHABLE_VOLT} V DC the tool does not drive`,
    text: `Above ${TOUCHABLE_VOLT} V DC a touch can injure. Nothing is driven then unless the bench is declared fit for it, with covers over live parts. Below, local rules may still ask for protection.`,
  },
  {
    id: 'mounted',
    title: 'The motor is held',
    text: 'Clamp the body of the motor for at least its stall torque. A loose motor jumps at the first pulse.',
  },
  {
    id: 'rotating-parts',
    title: 'Rotating parts catch',
    text: 'Keep hands, gloves, sleeves, hair and cables away from the shaft, coupling and disc. Fit a guard. Secure couplings and keys. Nobody stands in the plane of rotation.',
  },
  {
    id: 'locking-bar',
    title: 'A locking bar left on becomes a missile',
    text: 'Fix the bar or clamp against the full stall torque and keep out of its arc. Take it off, and see it lying on the bench, before the shaft may turn.',
  },
  {
    id: 'clamp-slips',
    title: 'A clamped shaft can let go',
    text: 'Pulses come without warning and in both directions. Hands stay off the clamp from the moment a test is started until the screen asks for them.',
  },
  {
    id: 'hands-when-asked',
    title: 'Hands near only when asked',
    text: 'Reach to the shaft or the terminals only when the screen asks for it. The rig is then disarmed, the shaft stands and the terminals are dead; look yourself all the same.',
  },
  {
    id: 'hot-winding',
    title: 'A stalled winding is hot within seconds',
    text: 'All power goes into heat. Temperature by resistance is a mean; the hottest coil is hotter. Case, brushes, shunts and load resistors can burn skin after the test too.',
  },
  {
    id: 'sparks',
    title: 'Brushes spark',
    text: 'Keep flammable vapour, dust and solvents away. Wear eye protection: commutators and discs can shed parts.',
  },
  {
    id: 'highest-speed',
    title: 'Know the highest speed',
    text: 'Do not run the rotor, coupling or disc faster than the lowest of their limits. An unknown sample first turns at low voltage.',
  },
  {
    id: 'regeneration',
    title: 'A braking motor pumps up the supply',
    text: 'A coasting or braked motor is a generator. Use a supply that takes current back, or a brake resistor, and a bus limit that protects bridge and supply.',
  },
  {
    id: 'wiring',
    title: 'Wire with the power off',
    text: 'Fuse the supply, discharge capacitors before touching terminals, tie grounds together on purpose, and stay inside the measuring category of every probe.',
  },
] as const satisfies readonly Caution[]
