import { z } from 'zod'

const positive = z.number().finite().positive()
const nonNegative = z.number().finite().nonnegative()

/**
 * A drive as its designer describes it (`rotorfit withstand --drive FILE.json`): what stands between the
 * supply and the motor, and around it. Units are in the names. Everything that is left out takes the
 * default written here, and the result says so.
 */
export const driveDocument = z.strictObject({
  name: z.string().max(120).default('drive'),
  /** 1: one direction, drive only; 2: one direction, drive and brake; 4: both ways, drive and brake. */
  quadrants: z.union([z.literal(1), z.literal(2), z.literal(4)]).default(4),
  supply: z.strictObject({
    lowestVolt: positive,
    highestVolt: positive,
    resistanceOhm: nonNegative.default(0),
    /** True where the supply takes back braking energy (a battery, a sinking supply). */
    sinksCurrent: z.boolean().default(false),
  }),
  bridge: z.strictObject({
    /** Sum of the switches in the path of the current. */
    pathResistanceOhm: nonNegative,
    pwmHz: positive,
    /** `unipolar`: the motor sees 0 and +V; `bipolar`: −V and +V. */
    switching: z.enum(['unipolar', 'bipolar']).default('unipolar'),
    /** Time of one edge of voltage and current together. */
    edgeSec: nonNegative.default(0),
    deadTimeSec: nonNegative.default(0),
    diodeVolt: nonNegative.default(0.8),
  }),
  wiring: z
    .strictObject({
      resistanceOhm: nonNegative.default(0),
      inductanceHenry: nonNegative.default(0),
    })
    .default({ resistanceOhm: 0, inductanceHenry: 0 }),
  dcLink: z.strictObject({
    capacitanceFarad: positive,
    esrOhm: nonNegative.default(0),
    eslHenry: nonNegative.default(0),
    /** Loop between capacitor and switches. */
    loopInductanceHenry: nonNegative.default(0),
    /** What the weakest part on the rail stands. */
    ratedVolt: positive.optional(),
  }),
  currentLimit: z
    .strictObject({ limitAmp: positive, blankingSec: nonNegative.default(0) })
    .optional(),
  ambient: z
    .strictObject({ lowestCelsius: z.number(), highestCelsius: z.number() })
    .default({ lowestCelsius: -20, highestCelsius: 40 }),
  /** Highest temperature that the winding's insulation stands (thermal class, IEC 60085). */
  windingLimitCelsius: z.number().default(130),
  /** Heat that the winding takes for one kelvin, where it is known and the identification has none. */
  windingHeatJoulePerKelvin: positive.optional(),
  load: z
    .strictObject({ torqueNm: nonNegative.default(0), inertiaKgM2: nonNegative.default(0) })
    .default({ torqueNm: 0, inertiaKgM2: 0 }),
})

export type DriveDocument = z.infer<typeof driveDocument>

/** A drive file's content; the fault names the key path and what would be right. */
export function parseDrive(
  content: unknown,
): { ok: true; value: DriveDocument } | { ok: false; error: string } {
  const parsed = driveDocument.safeParse(content)
  if (!parsed.success) {
    const issue = parsed.error.issues[0]!
    const path = issue.path.join('.')
    const missing = issue.code === 'invalid_type' && issue.message.includes('undefined')
    const what = missing ? 'is missing; every drive has one' : issue.message
    return {
      ok: false,
      error: `${path === '' ? 'the file' : path}: ${what} (see datasets/examples/drive-24v.json)`,
    }
  }
  const error = checkDrive(parsed.data)
  return error === null ? { ok: true, value: parsed.data } : { ok: false, error }
}

/** What a drive's numbers must be to each other; null where they are, else key path and rule in one line. */
export function checkDrive({ supply, ambient }: DriveDocument): string | null {
  if (supply.lowestVolt > supply.highestVolt) {
    return `supply.lowestVolt: ${supply.lowestVolt} is above supply.highestVolt ${supply.highestVolt}`
  }
  if (ambient.lowestCelsius > ambient.highestCelsius) {
    return `ambient.lowestCelsius: ${ambient.lowestCelsius} is above ambient.highestCelsius ${ambient.highestCelsius}`
  }
  return null
}
