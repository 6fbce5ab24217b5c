import { createHash, randomBytes, timingSafeEqual } from 'node:crypto'
import type { IncomingMessage } from 'node:http'
import { ENTRY_ROOT } from '../../src/contract/http-paths.ts'
import { isLoopback } from './addresses.ts'

/** `operator` may change and drive; `viewer` may look; `stranger` gets the page and a password box. */
export type Role = 'operator' | 'viewer' | 'stranger'

export interface Access {
  /** Path of the address that makes one browser an operator. Each use makes a new one. */
  entryPath(): string
  /** The cookie's value for a right key, null for a wrong or used one. */
  enter(key: string): string | null
  /** The cookie's value for the right password. `wait` where too many were wrong of late. */
  login(password: string, nowMs: number): string | 'wrong' | 'wait'
  roleOf(request: IncomingMessage): Role
  readonly cookieName: string
  /** For the command line's own calls: `Authorization: Bearer …`, over loopback only. */
  readonly commandToken: string
}

export interface AccessOptions {
  readonly port: number
  /** Null: no view from other machines. */
  readonly password: string | null
  /** Called when an entry address was used and another took its place. */
  readonly onNewEntry?: (path: string) => void
}

/** A wrong password costs this much waiting, doubled each time, for everyone. */
const FIRST_WAIT_MS = 500
const LONGEST_WAIT_MS = 60_000

const secret = () => randomBytes(24).toString('base64url')
const digest = (text: string) => createHash('sha256').update(text).digest()
const same = (a: string, b: string) => timingSafeEqual(digest(a), digest(b))

export function createAccess(options: AccessOptions): Access {
  const commandToken = secret()
  // Cookies are shared between the ports of a host: the name keeps two servers apart.
  const cookieName = `rotorfit-${options.port}`
  const operators = new Set<string>()
  const viewers = new Set<string>()
  let entryKey = secret()
  let wrongTries = 0
  let closedUntilMs = 0

  return {
    cookieName,
    commandToken,
    entryPath: () => ENTRY_ROOT + entryKey,
    enter(key) {
      if (!same(key, entryKey)) return null
      entryKey = secret()
      options.onNewEntry?.(ENTRY_ROOT + entryKey)
      return admit(operators)
    },
    login(password, nowMs) {
      if (nowMs < closedUntilMs) return 'wait'
      if (options.password === null || !same(password, options.password)) {
        closedUntilMs = nowMs + Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** wrongTries)
        wrongTries += 1
        return 'wrong'
      }
      wrongTries = 0
      return admit(viewers)
    },
    roleOf(request) {
      const local = isLocal(request)
      const bearer = /^Bearer (\S+)$/.exec(request.headers.authorization ?? '')?.[1]
      if (local && bearer && same(bearer, commandToken)) return 'operator'
      const cookie = cookieOf(request, cookieName)
      if (local) return cookie && operators.has(cookie) ? 'operator' : 'viewer'
      return cookie && viewers.has(cookie) ? 'viewer' : 'stranger'
    },
  }
}

/** From this machine to an address of this machine: the only place from which a motor is driven. */
export function isLocal(request: IncomingMessage): boolean {
  return isLoopback(request.socket.remoteAddress) && isLoopback(request.socket.localAddress)
}

function admit(set: Set<string>): string {
  const cookie = secret()
  set.add(cookie)
  return cookie
}

function cookieOf(request: IncomingMessage, name: string): string | null {
  for (const pair of (request.headers.cookie ?? '').split(';')) {
    const [key, value] = pair.trim().split('=')
    if (key === name && value) return value
  }
  return null
}
