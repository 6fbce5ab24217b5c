import { z } from 'zod'
import { InputFault } from '../base/faults.ts'
import { printable } from '../base/printable.ts'
import type { PracticeMotor } from '../records/practice-motor.ts'

/**
 * The file that `practice-rig --motor-file` reads, `practice-motor/1`: one invented motor. Units stand
 * in the key names; temperatures in degrees Celsius. Keys are explained at `PracticeMotor`.
 */
const between = (low: number, high: number) => {
  const rule = `must be a number from ${low} to ${high}`
  return z.number({ error: rule }).min(low, { error: rule }).max(high, { error: rule })
}

const whole = (low: number, high: number) => {
  const rule = `must be a whole number from ${low} to ${high}`
  return z.int({ error: rule }).min(low, { error: rule }).max(high, { error: rule })
}

const words = (longest: number) => {
  const rule = `must be a text of 1 to ${longest} printable characters`
  return z
    .string({ error: rule })
    .regex(new RegExp(`^[^\\p{Cc}\\p{Cf}\\p{Zl}\\p{Zp}]{1,${longest}}$`, 'u'), { error: rule })
}

const BRUSH_KINDS = ['carbon', 'metal-graphite', 'precious-metal'] as const

const part = <T extends z.ZodRawShape>(shape: T) =>
  z.strictObject(shape, {
    error: issue =>
      issue.code === 'unrecognized_keys'
        ? `has the unknown key ${JSON.stringify(printable(issue.keys[0]!, 40))}; known: ${Object.keys(shape).join(', ')}`
        : `must be an object with ${Object.keys(shape).join(', ')}`,
  })

export const practiceMotorFile = part({
  schema: z.literal('practice-motor/1', { error: "must be 'practice-motor/1'" }),
  name: words(60),
  maker: words(60),
  description: words(200),
  rating: part({
    voltageVolt: between(0.5, 400),
    currentAmp: between(0.001, 500),
    powerWatt: between(0.01, 20_000),
    speedLimitRadPerSec: between(10, 10_000),
  }),
  winding: part({
    segments: whole(3, 200),
    polePairs: whole(1, 10),
    copperOhm: between(0.001, 10_000),
    inductanceHenry: between(1e-7, 10),
    coilUnevenness: between(0, 0.1),
    segmentUnevenness: between(0, 0.1),
    patternSeed: whole(0, 2_147_483_647),
    fault: part({
      kind: z.enum(['open-coil', 'shorted-segments'], {
        error: 'must be one of open-coil, shorted-segments',
      }),
      coil: whole(0, 199),
    }).optional(),
  }),
  magnet: part({
    backEmfConstantVsPerRad: between(1e-5, 100),
    coefficientPerKelvin: between(-0.01, 0),
    flatness: between(0, 0.2),
    rippleShare: between(0, 1),
  }),
  brush: part({
    kind: z.enum(BRUSH_KINDS, { error: `must be one of ${BRUSH_KINDS.join(', ')}` }),
    dropVolt: between(0, 5),
    kneeAmp: between(1e-5, 500),
    contactOhm: between(0, 1000),
    contactNoiseOhm: between(0, 100),
    shortingShare: between(0, 1),
    widthSegments: between(0.05, 10),
  }),
  friction: part({
    coulombNm: between(0, 100),
    staticNm: between(0, 100),
    stribeckRadPerSec: between(0.01, 1000),
    viscousNmsPerRad: between(0, 10),
    windageNms2PerRad2: between(0, 1),
    directionShare: between(-0.5, 0.5),
    bumps: z.array(
      part({
        angleRad: between(0, 6.2832),
        widthRad: between(0.01, 6.2832),
        torqueNm: between(-100, 100),
      }),
      { error: 'must be a list of objects with angleRad, widthRad, torqueNm' },
    ),
  }),
  cogging: part({
    periodsPerTurn: whole(1, 1000),
    amplitudeNm: between(0, 100),
  }),
  inertiaKgM2: between(1e-10, 100),
  thermal: part({
    windingJPerK: between(0.01, 1e6),
    housingJPerK: between(0.01, 1e7),
    windingToHousingKPerW: between(0.001, 1000),
    housingToAmbientKPerW: between(0.001, 1000),
  }),
  across: part({
    capacitorFarad: between(0, 1e-3),
    varistorVolt: between(0, 1000),
    varistorExponent: between(2, 60),
  }).optional(),
  cutOut: part({
    opensCelsius: between(30, 250),
    closesCelsius: between(20, 250),
  }).optional(),
  gear: part({
    backlashRad: between(0, 100),
    coulombNm: between(0, 100),
  }).optional(),
}) satisfies z.ZodType<PracticeMotor>

/** Rules that span several keys: where, and what would be right. */
function findContradiction(motor: PracticeMotor): string | null {
  const { winding, brush, friction, rating, magnet } = motor
  const ohm = winding.copperOhm + brush.contactOhm
  const widest = winding.segments / (2 * winding.polePairs) - 1.08
  if (brush.widthSegments > widest) {
    const most = Math.floor(widest * 100) / 100
    return most > 0
      ? `brush.widthSegments = ${brush.widthSegments}; must be <= segments / (2 polePairs) - 1.08 = ${most}`
      : `winding.segments = ${winding.segments}; must be more than ${(2.16 * winding.polePairs).toFixed(1)} for ${winding.polePairs} pole pairs`
  }
  if (friction.staticNm < friction.coulombNm) {
    return `friction.staticNm = ${friction.staticNm}; must be >= friction.coulombNm = ${friction.coulombNm}`
  }
  const bumps = friction.bumps.reduce((sum, bump) => sum + Math.abs(bump.torqueNm), 0)
  if (bumps > friction.coulombNm) {
    return `friction.bumps add up to ${bumps} N m; must be <= friction.coulombNm = ${friction.coulombNm}`
  }
  if (winding.fault && winding.fault.coil >= winding.segments) {
    return `winding.fault.coil = ${winding.fault.coil}; must be below segments = ${winding.segments}`
  }
  if (motor.cutOut && motor.cutOut.closesCelsius >= motor.cutOut.opensCelsius) {
    return `cutOut.closesCelsius = ${motor.cutOut.closesCelsius}; must be below cutOut.opensCelsius = ${motor.cutOut.opensCelsius}`
  }
  const electricalSec = winding.inductanceHenry / ohm
  if (electricalSec < 1e-5 || electricalSec > 0.1) {
    return `winding.inductanceHenry / resistance = ${electricalSec.toPrecision(3)} s; must be from 1e-5 s to 0.1 s`
  }
  const stallNm = ((rating.voltageVolt - brush.dropVolt) / ohm) * magnet.backEmfConstantVsPerRad
  const resisting = friction.staticNm + motor.cogging.amplitudeNm
  if (stallNm <= 1.5 * resisting) {
    return `friction.staticNm + cogging.amplitudeNm = ${resisting} N m; must be below two thirds of the stall torque ${stallNm.toPrecision(3)} N m`
  }
  const idealSpeed = rating.voltageVolt / magnet.backEmfConstantVsPerRad
  if (rating.speedLimitRadPerSec < idealSpeed) {
    return `rating.speedLimitRadPerSec = ${rating.speedLimitRadPerSec}; must be >= voltage / back-EMF constant = ${idealSpeed.toPrecision(4)}`
  }
  return null
}

/** Throws an `InputFault` of one line: file, key path, what stands there, what would be right. */
export function readPracticeMotor(text: string, fileName: string): PracticeMotor {
  let json: unknown
  try {
    json = JSON.parse(text)
  } catch (error) {
    const reason = printable(error instanceof Error ? error.message : String(error))
    throw new InputFault(
      `${fileName}: is not JSON (${reason}); must be one practice-motor/1 object`,
    )
  }
  const parsed = practiceMotorFile.safeParse(json)
  if (!parsed.success) {
    const { issues } = parsed.error
    const issue = issues[0]!
    const more = issues.length > 1 ? ` (and ${issues.length - 1} more)` : ''
    throw new InputFault(`${fileName}: ${describe(issue, json)}${more}`)
  }
  const contradiction = findContradiction(parsed.data)
  if (contradiction !== null) throw new InputFault(`${fileName}: ${contradiction}`)
  return parsed.data
}

function describe(issue: z.core.$ZodIssue, json: unknown): string {
  const where = issue.path
    .map(key => (typeof key === 'number' ? `[${key}]` : `.${String(key)}`))
    .join('')
    .replace(/^\./, '')
  if (issue.code === 'unrecognized_keys') return `${where || 'the object'} ${issue.message}`
  let found: unknown = json
  for (const key of issue.path) {
    found = (found as Record<PropertyKey, unknown> | null | undefined)?.[key]
  }
  const shown = found === undefined ? 'is missing' : `= ${printable(JSON.stringify(found), 40)}`
  return `${where || 'the file'} ${shown}; ${issue.message}`
}
