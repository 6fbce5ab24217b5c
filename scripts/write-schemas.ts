import { writeFileSync } from 'node:fs'
import { PUBLISHED_NAMES, publishedSchema } from '../src/contract/published-schemas.ts'

/** Writes datasets/schemas: the JSON schemas of documents that other programs read or write. */
for (const name of PUBLISHED_NAMES) {
  writeFileSync(
    new URL(`../datasets/schemas/${name}.schema.json`, import.meta.url),
    `${JSON.stringify(publishedSchema(name), null, 2)}\n`,
  )
}
