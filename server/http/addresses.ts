import { isIP } from 'node:net'

/** True for an address of this very machine, IPv4 or IPv6, also mapped (`::ffff:127.0.0.1`). */
export function isLoopback(address: string | undefined): boolean {
  if (!address) return false
  const plain = address.startsWith('::ffff:') ? address.slice(7) : address
  return plain === '::1' || /^127(\.\d{1,3}){3}$/.test(plain)
}

/** An address that takes connections on every interface. */
export const isAnyAddress = (host: string): boolean => host === '0.0.0.0' || host === '::'

/** As it stands in an address bar: IPv6 in brackets. */
export const hostInUrl = (host: string): string => (isIP(host) === 6 ? `[${host}]` : host)

/**
 * Whether a Host header may be answered. Loopback answers to loopback names only, so that no other
 * name can be made to point here (DNS rebinding); on other interfaces an address literal or the name
 * given with `--host` is good, a foreign name is not.
 */
export function hostAllowed(
  header: string | undefined,
  local: boolean,
  port: number,
  servedHost: string,
): boolean {
  const match = /^(\[[0-9a-f:.]+\]|[^:[\]]+)(?::(\d+))?$/i.exec(header ?? '')
  if (!match || Number(match[2] ?? 80) !== port) return false
  const name = match[1]!.replace(/^\[|\]$/g, '').toLowerCase()
  if (name === 'localhost' || isLoopback(name)) return local
  if (isLoopback(servedHost) || servedHost === 'localhost') return false
  return name === servedHost.toLowerCase() || isIP(name) !== 0
}
