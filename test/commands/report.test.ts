import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, test } from 'vitest'
import { openStore } from '../../server/store/open-store.ts'
import { sheetFacts } from '../../src/contract/sheet-facts.ts'
import { identifyInStore, logPracticeSuite } from '../http/support/practice-store.ts'
import { commandBench } from '../support/command-runner.ts'

const { folder, run, db } = commandBench()

describe('report', () => {
  beforeAll(async () => {
    const store = openStore(db, { now: Date.now })
    await logPracticeSuite(store, 'hazelnut-24', 'sample', { rateHz: 2000 })
    identifyInStore(store, 'sample')
    store.motors.add({ name: 'unknown' })
    store.close()
  })

  test.each([
    ['pdf', '%PDF-'],
    ['html', '<!doctype html>'],
    ['csv', 'motor,serial number'],
    ['json', '{'],
  ])('writes %s by the ending of the file', async (ending, start) => {
    const file = join(folder, `sheet.${ending}`)
    const { code, out } = await run('report', '--motor', 'sample', '--out', file)
    expect(code).toBe(0)
    expect(out).toBe('')
    expect(readFileSync(file, 'latin1').startsWith(start)).toBe(true)
  })

  test('the JSON keeps to its schema', () => {
    const facts = JSON.parse(readFileSync(join(folder, 'sheet.json'), 'utf8'))
    expect(sheetFacts.safeParse(facts).error).toBeUndefined()
  })

  test('an existing file is overwritten on request only', async () => {
    const file = join(folder, 'sheet.pdf')
    const refused = await run('report', '--motor', 'sample', '--out', file)
    expect(refused).toMatchObject({ code: 2 })
    expect(refused.err).toContain('--force')
    expect((await run('report', '--motor', 'sample', '--out', file, '--force')).code).toBe(0)
  })

  test.each([
    [['--motor', 'sample', '--out', 'sheet.doc'], '.pdf'],
    [['--motor', 'nobody', '--out', 'sheet2.pdf'], 'nobody'],
    [['--motor', 'unknown', '--out', 'sheet2.pdf'], 'has not been identified'],
    [['--motor', 'sample', '--out', 'nowhere/sheet2.pdf'], 'folder'],
  ])('refuses %j in one line and writes nothing', async (args, words) => {
    const { code, err } = await run('report', ...args)
    expect(code).toBe(2)
    expect(err).toContain(words)
    expect(err).not.toContain('    at ')
    expect(existsSync('sheet2.pdf')).toBe(false)
  })
})
