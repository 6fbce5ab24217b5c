import { existsSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { expect, test } from 'vitest'
import { dataFolder, defaultStoreFile } from '../../server/store/default-store-file.ts'
import { scratchFolder } from '../support/scratch-store.ts'

const folders = [
  { platform: 'linux', env: {}, expected: '/home/ada/.local/share' },
  { platform: 'linux', env: { XDG_DATA_HOME: '/data/ada' }, expected: '/data/ada' },
  { platform: 'linux', env: { XDG_DATA_HOME: 'data' }, expected: '/home/ada/.local/share' },
  { platform: 'freebsd', env: { XDG_DATA_HOME: '' }, expected: '/home/ada/.local/share' },
  { platform: 'darwin', env: {}, expected: '/home/ada/Library/Application Support' },
  { platform: 'win32', env: { LOCALAPPDATA: 'C:\\Users\\ada\\L' }, expected: 'C:\\Users\\ada\\L' },
] as const

// XDG Base Directory Specification 0.8: $XDG_DATA_HOME, else $HOME/.local/share; relative paths are
// invalid and ignored (from memory). The folders of macOS and Windows: common practice, no source.
test.each(folders)('on $platform with $env the data folder is $expected', each => {
  expect(dataFolder(each.env, each.platform, '/home/ada')).toBe(each.expected)
})

test.runIf(process.platform === 'linux')('the folder of the default store is made', () => {
  const home = scratchFolder()
  const file = defaultStoreFile({ XDG_DATA_HOME: home })
  expect(file).toBe(join(home, 'rotorfit', 'store.rotorfit'))
  expect(existsSync(dirname(file))).toBe(true)
})

test.runIf(process.platform === 'linux')('a folder that cannot be made is said', () => {
  expect(() => defaultStoreFile({ XDG_DATA_HOME: '/dev/null' })).toThrow(
    'cannot make the folder /dev/null/rotorfit for the store (ENOTDIR); choose a file with --db',
  )
})
