import { mkdirSync } from 'node:fs'
import { homedir } from 'node:os'
import { dirname, join } from 'node:path'
import { WorkFault } from '../../src/base/faults.ts'

type Environment = Readonly<Record<string, string | undefined>>

/**
 * The store in the user's own data folder, for whoever names no other. Makes the folder, readable by the
 * user only; a folder that the user names is never made, as it may be mistyped.
 */
export function defaultStoreFile(env: Environment): string {
  const file = join(dataFolder(env, process.platform, homedir()), 'rotorfit', 'store.rotorfit')
  try {
    mkdirSync(dirname(file), { recursive: true, mode: 0o700 })
  } catch (error) {
    throw new WorkFault(
      `cannot make the folder ${dirname(file)} for the store (${(error as NodeJS.ErrnoException).code}); choose a file with --db`,
      { cause: error },
    )
  }
  return file
}

/**
 * Where programs of this system keep a user's data: LOCALAPPDATA on Windows, Application Support on
 * macOS, elsewhere what the XDG Base Directory Specification 0.8 says (a relative XDG_DATA_HOME is to be
 * ignored).
 */
export function dataFolder(env: Environment, platform: NodeJS.Platform, home: string): string {
  if (platform === 'win32') return env.LOCALAPPDATA || join(home, 'AppData', 'Local')
  if (platform === 'darwin') return join(home, 'Library', 'Application Support')
  return env.XDG_DATA_HOME?.startsWith('/') ? env.XDG_DATA_HOME : join(home, '.local', 'share')
}
