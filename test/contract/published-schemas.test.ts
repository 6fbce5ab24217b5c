import { readdirSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { PUBLISHED_NAMES, publishedSchema } from '../../src/contract/published-schemas.ts'

const folder = new URL('../../datasets/schemas/', import.meta.url)

test.each(PUBLISHED_NAMES)(
  'the published schema %s is the one in use (npx tsx scripts/write-schemas.ts)',
  name => {
    const published = JSON.parse(readFileSync(new URL(`${name}.schema.json`, folder), 'utf8'))
    expect(published).toEqual(publishedSchema(name))
  },
)

test('nothing else lies there', () => {
  expect(readdirSync(folder).sort()).toEqual(
    PUBLISHED_NAMES.map(name => `${name}.schema.json`).sort(),
  )
})
