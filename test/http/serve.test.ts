import { once } from 'node:events'
import { readFileSync, statSync, writeFileSync } from 'node:fs'
import { createServer } from 'node:net'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { runCommandLine } from '../../server/commands/command-line.ts'
import { type StoreFolder, storeFolder } from './support/practice-store.ts'

let folder: StoreFolder
beforeAll(() => {
  folder = storeFolder()
})
afterAll(() => folder.remove())

/** Runs `serve` until it has said where it is, or has ended. */
function serve(...args: string[]) {
  const interrupt = new AbortController()
  let out = ''
  let said = ''
  let isReady = () => {}
  const ready = new Promise<void>(resolve => {
    isReady = resolve
  })
  const ended = runCommandLine(['serve', '--db', folder.file, ...args], {
    out: text => {
      out += text
      isReady()
    },
    say: line => {
      said += `${line}\n`
    },
    progress: () => {},
    env: {},
    interactive: false,
    ask: () => Promise.reject(new Error('nobody to ask')),
    onKey: () => () => {},
    interrupted: interrupt.signal,
  })
  return {
    ready: Promise.race([ready, ended]),
    ended,
    interrupt: () => interrupt.abort(),
    out: () => out,
    said: () => said,
  }
}

describe('serve', () => {
  test('prints one address, leaves a token that only its user can read, and takes it away', async () => {
    const server = serve('--http-port', '0')
    await server.ready
    const address = new URL(server.out().trim())
    expect(address.hostname).toBe('127.0.0.1')
    const tokenFile = `${folder.file}.serve-${address.port}`
    if (process.platform !== 'win32') expect(statSync(tokenFile).mode & 0o777).toBe(0o600)
    const { address: api, token } = JSON.parse(readFileSync(tokenFile, 'utf8'))
    const session = await fetch(`${api}/session`, { headers: { authorization: `Bearer ${token}` } })
    expect(await session.json()).toMatchObject({ role: 'operator' })
    server.interrupt()
    expect(await server.ended).toBe(0)
    expect(() => statSync(tokenFile)).toThrow()
  })

  test('a busy port is said, with the option that chooses another', async () => {
    const taken = createServer().listen(0, '127.0.0.1')
    await once(taken, 'listening')
    const { port } = taken.address() as { port: number }
    const server = serve('--http-port', String(port))
    expect(await server.ended).toBe(2)
    expect(server.said()).toContain(`port ${port}`)
    expect(server.said()).toContain('--http-port')
    expect(server.said()).not.toContain('    at ')
    taken.close()
  })

  test.each([
    [[], 'needs a password'],
    [['--password-file', 'nowhere.txt'], 'cannot be read'],
  ])('beyond this machine it wants a password %j', async (more, words) => {
    const server = serve('--host', '0.0.0.0', '--http-port', '0', ...more)
    expect(await server.ended).toBe(2)
    expect(server.said()).toContain(words)
  })

  test('with a password from a file it says what it opens', async () => {
    const file = `${folder.folder}/password`
    writeFileSync(file, 'correct horse battery\n', { mode: 0o600 })
    const server = serve('--host', '0.0.0.0', '--http-port', '0', '--password-file', file)
    await server.ready
    expect(server.said()).toContain('read-only')
    expect(server.said()).toContain('not encrypted')
    expect(server.said() + server.out()).not.toContain('correct horse')
    server.interrupt()
    expect(await server.ended).toBe(0)
  })
})
