import { accessSync, constants } from 'node:fs'
import { delimiter, join } from 'node:path'

const NAMES = [
  'chromium',
  'chromium-browser',
  'google-chrome',
  'google-chrome-stable',
  'chrome',
  'microsoft-edge',
  'microsoft-edge-stable',
  'msedge',
]

const PLACES: Readonly<Partial<Record<NodeJS.Platform, readonly string[]>>> = {
  darwin: [
    '/Applications/Chromium.app/Contents/MacOS/Chromium',
    '/Applications/Google Chrome.app/Contents/MacOS/Google Chrome',
    '/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge',
  ],
  win32: ['PROGRAMFILES', 'PROGRAMFILES(X86)', 'LOCALAPPDATA'].flatMap(variable => {
    const folder = process.env[variable]
    return folder === undefined
      ? []
      : [
          join(folder, 'Google', 'Chrome', 'Application', 'chrome.exe'),
          join(folder, 'Chromium', 'Application', 'chrome.exe'),
          join(folder, 'Microsoft', 'Edge', 'Application', 'msedge.exe'),
        ]
  }),
}

/** An installed Chromium, Chrome or Edge; null where there is none. `CHROME_PATH` names another. */
export function findBrowser(): string | null {
  const endings = process.platform === 'win32' ? ['.exe'] : ['']
  const onPath = (process.env.PATH ?? '')
    .split(delimiter)
    .flatMap(folder => NAMES.flatMap(name => endings.map(ending => join(folder, name + ending))))
  const candidates = [process.env.CHROME_PATH ?? '', ...(PLACES[process.platform] ?? []), ...onPath]
  return candidates.find(isRunnable) ?? null
}

function isRunnable(path: string): boolean {
  if (path === '') return false
  try {
    accessSync(path, constants.X_OK)
    return true
  } catch {
    return false
  }
}
