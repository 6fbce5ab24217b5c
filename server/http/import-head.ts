import { open } from 'node:fs/promises'
import { createGunzip } from 'node:zlib'
import { parse } from 'csv-parse/sync'
import { printable } from '../../src/base/printable.ts'
import { findCsvShape } from '../files/csv-shape.ts'

const HEAD_BYTES = 65_536
const SHOWN_ROWS = 6

/** The first rows as they stand in the file, for a person to see what the columns hold. */
export async function readHead(
  file: string,
): Promise<{ header: string[]; rows: string[][]; hasShape: boolean }> {
  const text = await headText(file)
  const lines = text.replace(/^\ufeff/, '').split(/\r?\n/)
  const shape = findCsvShape(lines, null)
  const delimiter = shape?.delimiter ?? likelyDelimiter(lines)
  const from = shape ? shape.linesBeforeData : likelyHeader(lines, delimiter) + 1
  const cells = (some: string[]): string[][] => {
    try {
      return parse(some.join('\n'), {
        delimiter,
        relax_column_count: true,
        relax_quotes: true,
        skip_empty_lines: true,
      })
    } catch {
      return []
    }
  }
  const header = shape ? [...shape.header] : (cells([lines[from - 1] ?? ''])[0] ?? [])
  return {
    header: header.slice(0, 64).map(cell => printable(cell, 80)),
    rows: cells(lines.slice(from, from + SHOWN_ROWS)).map(row =>
      row.slice(0, 64).map(cell => printable(cell, 80)),
    ),
    hasShape: shape !== null,
  }
}

async function headText(file: string): Promise<string> {
  const handle = await open(file)
  try {
    const { buffer, bytesRead } = await handle.read(Buffer.alloc(HEAD_BYTES), 0, HEAD_BYTES, 0)
    const head = buffer.subarray(0, bytesRead)
    if (head[0] !== 0x1f || head[1] !== 0x8b) return head.toString('utf8')
    return await unpackHead(head)
  } finally {
    await handle.close()
  }
}

function unpackHead(head: Buffer): Promise<string> {
  return new Promise(resolve => {
    const pieces: Buffer[] = []
    const end = () => resolve(Buffer.concat(pieces).subarray(0, HEAD_BYTES).toString('utf8'))
    const gunzip = createGunzip()
    gunzip.on('data', (piece: Buffer) => pieces.push(piece))
    // The head is cut off in the middle of the stream: what came before is what is wanted.
    gunzip.on('error', end)
    gunzip.on('end', end)
    gunzip.end(head)
  })
}

function likelyDelimiter(lines: readonly string[]): string {
  const sample = lines.slice(0, 20).join('\n')
  return [';', '\t', ','].reduce((best, one) =>
    sample.split(one).length > sample.split(best).length ? one : best,
  )
}

/** The first line with as many cells as the widest: a preamble is narrower. */
function likelyHeader(lines: readonly string[], delimiter: string): number {
  const widths = lines.slice(0, 50).map(line => line.split(delimiter).length)
  return Math.max(0, widths.indexOf(Math.max(...widths)))
}
