import type { NextFunction, Request, RequestHandler, Response } from 'express'
import { PAGE_HEADER } from '../../src/contract/http-paths.ts'
import { isLocal } from './access.ts'
import { hostAllowed } from './addresses.ts'
import { HttpFault } from './http-fault.ts'

const POLICY = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' data: blob:",
  "font-src 'self'",
  "connect-src 'self'",
  "manifest-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join('; ')

/** Headers that keep the page to itself: nothing is fetched from elsewhere, nobody frames it. */
export const secureHeaders: RequestHandler = (request, response, next) => {
  response.set({
    'Content-Security-Policy': POLICY,
    'X-Content-Type-Options': 'nosniff',
    'X-Frame-Options': 'DENY',
    'Referrer-Policy': 'no-referrer',
    'Cross-Origin-Resource-Policy': 'same-origin',
    'Permissions-Policy': 'camera=(), microphone=(), geolocation=()',
  })
  // A browser heeds this one only where the origin can be trusted, and complains elsewhere.
  if (isLocal(request)) response.set('Cross-Origin-Opener-Policy', 'same-origin')
  next()
}

/**
 * Turns away what no page of ours sends: a foreign Host (DNS rebinding), a foreign Origin, and
 * state-changing requests without our header (which a foreign page cannot add without asking first).
 */
export function guard(port: () => number, servedHost: string): RequestHandler {
  return (request: Request, _response: Response, next: NextFunction) => {
    if (!hostAllowed(request.headers.host, isLocal(request), port(), servedHost)) {
      throw new HttpFault(
        421,
        'host',
        `this server does not answer as '${clip(request.headers.host)}'; open the address that was printed at its start`,
      )
    }
    const { origin } = request.headers
    if (origin !== undefined && origin !== `http://${request.headers.host}`) {
      throw new HttpFault(403, 'origin', 'requests from other sites are not answered')
    }
    const site = request.headers['sec-fetch-site']
    const changes = request.method !== 'GET' && request.method !== 'HEAD'
    if (changes && typeof site === 'string' && site !== 'same-origin') {
      throw new HttpFault(403, 'origin', 'requests from other sites are not answered')
    }
    if (changes && request.headers[PAGE_HEADER] === undefined) {
      throw new HttpFault(
        403,
        'header',
        `a request that changes something carries the header ${PAGE_HEADER}: 1`,
      )
    }
    next()
  }
}

const clip = (text: string | undefined) => (text ?? '').slice(0, 80).replaceAll(/[^ -~]/g, '?')
