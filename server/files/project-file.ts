import { fileURLToPath } from 'node:url'

/** A file of the project by its path from the top, from source and from the bundle in dist/ alike. */
export function projectFile(path: string): string {
  const top = import.meta.url.endsWith('.ts') ? '../../' : '../'
  return fileURLToPath(new URL(top + path, import.meta.url))
}
