import { existsSync } from 'node:fs'
import { join } from 'node:path'
import express, { type Express } from 'express'
import { HttpFault } from './http-fault.ts'

/**
 * The built page. Its parts carry a hash in their names and never change; every other address is
 * the page itself, which reads from it what to show.
 */
export function pageRoutes(app: Express, folder: string): void {
  const index = join(folder, 'index.html')
  app.use(
    '/assets',
    express.static(join(folder, 'assets'), {
      immutable: true,
      maxAge: '1y',
      index: false,
      fallthrough: false,
    }),
  )
  app.use(express.static(folder, { index: false, cacheControl: false, dotfiles: 'ignore' }))
  app.get('/{*address}', (_request, response) => {
    if (!existsSync(index)) {
      throw new HttpFault(503, 'no-page', 'the page is not built; run npm run build')
    }
    response.set('Cache-Control', 'no-cache').sendFile(index)
  })
}
