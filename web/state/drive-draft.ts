import type { DriveDocument } from '../../src/contract/drive-document.ts'

/** Fields of the form, in the units in which a drive engineer writes them. */
export interface DriveField {
  /** Key path in the drive document. */
  readonly path: string
  readonly label: string
  readonly unit: string
  /** SI value = shown value × factor. */
  readonly factor: number
  readonly rule: 'above-nil' | 'not-below-nil' | 'any'
  /** May be left empty: then the drive has none, or it is not known. */
  readonly optional?: true
}

export interface DriveGroup {
  readonly title: string
  readonly fields: readonly DriveField[]
}

const field = (
  path: string,
  label: string,
  unit: string,
  factor: number,
  rule: DriveField['rule'] = 'not-below-nil',
): DriveField => ({ path, label, unit, factor, rule })

const optional = (...args: Parameters<typeof field>): DriveField => ({
  ...field(...args),
  optional: true,
})

export const DRIVE_GROUPS: readonly DriveGroup[] = [
  {
    title: 'Supply',
    fields: [
      field('supply.lowestVolt', 'Lowest voltage', 'V', 1, 'above-nil'),
      field('supply.highestVolt', 'Highest voltage', 'V', 1, 'above-nil'),
      field('supply.resistanceOhm', 'Its resistance', 'mΩ', 1e-3),
    ],
  },
  {
    title: 'Bridge',
    fields: [
      field('bridge.pathResistanceOhm', 'Switches in the path', 'mΩ', 1e-3),
      field('bridge.pwmHz', 'PWM frequency', 'kHz', 1e3, 'above-nil'),
      field('bridge.edgeSec', 'One edge', 'ns', 1e-9),
      field('bridge.deadTimeSec', 'Dead time', 'ns', 1e-9),
      field('bridge.diodeVolt', 'Diode drop', 'V', 1),
    ],
  },
  {
    title: 'Current limit',
    fields: [
      optional('currentLimit.limitAmp', 'Limit', 'A', 1, 'above-nil'),
      optional('currentLimit.blankingSec', 'Blanking', 'µs', 1e-6),
    ],
  },
  {
    title: 'Wiring to the motor',
    fields: [
      field('wiring.resistanceOhm', 'Resistance', 'mΩ', 1e-3),
      field('wiring.inductanceHenry', 'Inductance', 'µH', 1e-6),
    ],
  },
  {
    title: 'DC link',
    fields: [
      field('dcLink.capacitanceFarad', 'Capacitance', 'µF', 1e-6, 'above-nil'),
      field('dcLink.esrOhm', 'ESR', 'mΩ', 1e-3),
      field('dcLink.eslHenry', 'ESL', 'nH', 1e-9),
      field('dcLink.loopInductanceHenry', 'Loop to the switches', 'nH', 1e-9),
      optional('dcLink.ratedVolt', 'Rating of the rail', 'V', 1, 'above-nil'),
    ],
  },
  {
    title: 'Heat',
    fields: [
      field('ambient.lowestCelsius', 'Coldest surroundings', '°C', 1, 'any'),
      field('ambient.highestCelsius', 'Hottest surroundings', '°C', 1, 'any'),
      field('windingLimitCelsius', 'Winding may reach', '°C', 1, 'any'),
      optional('windingHeatJoulePerKelvin', 'Winding takes', 'J/K', 1, 'above-nil'),
    ],
  },
  {
    title: 'Load',
    fields: [
      field('load.torqueNm', 'Torque', 'mN·m', 1e-3),
      field('load.inertiaKgM2', 'Inertia', 'g·cm²', 1e-7),
    ],
  },
]

const FIELDS = DRIVE_GROUPS.flatMap(group => group.fields)

/** What stands in the form: numbers as typed, by key path. */
export interface DriveDraft {
  readonly name: string
  readonly quadrants: DriveDocument['quadrants']
  readonly switching: DriveDocument['bridge']['switching']
  readonly sinksCurrent: boolean
  readonly typed: Readonly<Record<string, string>>
}

/** An invented drive to begin with. */
export const FIRST_DRIVE: DriveDocument = {
  name: 'Drive',
  quadrants: 4,
  supply: { lowestVolt: 20, highestVolt: 28, resistanceOhm: 0.05, sinksCurrent: false },
  bridge: {
    pathResistanceOhm: 0.03,
    pwmHz: 20_000,
    switching: 'unipolar',
    edgeSec: 1e-7,
    deadTimeSec: 5e-7,
    diodeVolt: 0.8,
  },
  wiring: { resistanceOhm: 0.02, inductanceHenry: 1e-6 },
  dcLink: { capacitanceFarad: 4.7e-4, esrOhm: 0.03, eslHenry: 1e-8, loopInductanceHenry: 2e-8 },
  currentLimit: { limitAmp: 8, blankingSec: 2e-6 },
  ambient: { lowestCelsius: -20, highestCelsius: 40 },
  windingLimitCelsius: 130,
  load: { torqueNm: 0.02, inertiaKgM2: 1e-6 },
}

export function draftOf(drive: DriveDocument): DriveDraft {
  return {
    name: drive.name,
    quadrants: drive.quadrants,
    switching: drive.bridge.switching,
    sinksCurrent: drive.supply.sinksCurrent,
    typed: Object.fromEntries(
      FIELDS.map(({ path, factor }) => {
        const value = at(drive, path)
        return [path, value === undefined ? '' : String(Number((value / factor).toPrecision(12)))]
      }),
    ),
  }
}

export interface ReadDraft {
  /** Null while a field is at fault. */
  readonly drive: DriveDocument | null
  /** What would be right, by key path. */
  readonly faults: Readonly<Record<string, string>>
}

const RULES: Readonly<
  Record<DriveField['rule'], { text: string; holds: (value: number) => boolean }>
> = {
  'above-nil': { text: 'Needs a number above 0', holds: value => value > 0 },
  'not-below-nil': { text: 'Needs 0 or more', holds: value => value >= 0 },
  any: { text: 'Needs a number', holds: () => true },
}

export function readDraft({
  name,
  quadrants,
  switching,
  sinksCurrent,
  typed,
}: DriveDraft): ReadDraft {
  const faults: Record<string, string> = {}
  const tree: Record<string, unknown> = {}
  for (const { path, factor, rule, optional: mayBeEmpty } of FIELDS) {
    const text = (typed[path] ?? '').trim().replace(',', '.')
    if (text === '' && mayBeEmpty) continue
    const value = Number(text)
    if (text === '' || !Number.isFinite(value) || !RULES[rule].holds(value)) {
      faults[path] = RULES[rule].text
    } else place(tree, path, value * factor)
  }
  const { supply, ambient, currentLimit } = tree as Partial<DriveDocument>
  if (supply && supply.lowestVolt > supply.highestVolt) {
    faults['supply.highestVolt'] = 'Needs to be no lower than the lowest'
  }
  if (ambient && ambient.lowestCelsius > ambient.highestCelsius) {
    faults['ambient.highestCelsius'] = 'Needs to be no colder than the coldest'
  }
  if (currentLimit && currentLimit.limitAmp === undefined) {
    faults['currentLimit.limitAmp'] = 'A blanking time belongs to a limit'
  }
  if (Object.keys(faults).length > 0) return { drive: null, faults }
  const whole = tree as unknown as DriveDocument
  return {
    faults,
    drive: {
      ...whole,
      name: name.trim() === '' ? 'Drive' : name.trim(),
      quadrants,
      supply: { ...whole.supply, sinksCurrent },
      bridge: { ...whole.bridge, switching },
      ...(whole.currentLimit
        ? {
            currentLimit: {
              ...whole.currentLimit,
              blankingSec: whole.currentLimit.blankingSec ?? 0,
            },
          }
        : {}),
    },
  }
}

function at(tree: unknown, path: string): number | undefined {
  return path
    .split('.')
    .reduce<unknown>(
      (branch, key) => (branch as Record<string, unknown> | undefined)?.[key],
      tree,
    ) as number | undefined
}

function place(tree: Record<string, unknown>, path: string, value: number): void {
  const keys = path.split('.')
  const last = keys.pop()!
  let branch = tree
  for (const key of keys) {
    branch[key] ??= {}
    branch = branch[key] as Record<string, unknown>
  }
  branch[last] = value
}

const KEPT_AS = 'rotorfit-drive'

/** The drive described last in this browser: the same one is tried on several motors. */
export function keptDraft(): DriveDraft {
  const first = draftOf(FIRST_DRIVE)
  try {
    const kept = JSON.parse(localStorage.getItem(KEPT_AS) ?? 'null') as Partial<DriveDraft> | null
    return kept ? { ...first, ...kept, typed: { ...first.typed, ...kept.typed } } : first
  } catch {
    return first
  }
}

export function keepDraft(draft: DriveDraft): void {
  try {
    localStorage.setItem(KEPT_AS, JSON.stringify(draft))
  } catch {
    // A browser that keeps nothing begins anew next time.
  }
}
