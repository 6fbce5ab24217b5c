import { readFile } from 'node:fs/promises'
import { basename } from 'node:path'
import { InputFault } from '../../src/base/faults.ts'
import { readPracticeMotor } from '../../src/contract/practice-motor.ts'
import type { PracticeMotor } from '../../src/records/practice-motor.ts'
import { projectFile } from '../files/project-file.ts'

/** The motor behind a practice rig where none is named. */
const DEFAULT_MOTOR_FILE = 'datasets/motors/brindle-12.json'

export async function loadPracticeMotor(file: string | null): Promise<PracticeMotor> {
  const path = file ?? projectFile(DEFAULT_MOTOR_FILE)
  const text = await readFile(path, 'utf8').catch((error: NodeJS.ErrnoException) => {
    throw new InputFault(
      `${basename(path)}: ${error.code === 'ENOENT' ? 'no such file' : `cannot be read (${error.code})`}; needs a motor file such as those in datasets/motors`,
    )
  })
  return readPracticeMotor(text, basename(path))
}
