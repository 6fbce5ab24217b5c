import { createReadStream } from 'node:fs'
import { open, stat } from 'node:fs/promises'
import { createGunzip } from 'node:zlib'
import { InputFault } from '../../src/base/faults.ts'

const HEAD_BYTES = 65_536

export async function inspect(
  file: string,
  name: string,
): Promise<{ size: number; packed: boolean }> {
  try {
    const facts = await stat(file)
    if (!facts.isFile()) throw new InputFault(`${name} is not a file`)
    if (facts.size === 0)
      throw new InputFault(`${name} is empty; a recording has a header and rows`)
    const handle = await open(file)
    try {
      const { buffer, bytesRead } = await handle.read(Buffer.alloc(2), 0, 2, 0)
      return {
        size: facts.size,
        packed: bytesRead === 2 && buffer[0] === 0x1f && buffer[1] === 0x8b,
      }
    } finally {
      await handle.close()
    }
  } catch (error) {
    throw asInputFault(error, name)
  }
}

export function asInputFault(error: unknown, name: string): unknown {
  const code = (error as NodeJS.ErrnoException).code
  if (code === 'ENOENT') return new InputFault(`${name}: no such file`)
  if (code === 'EACCES' || code === 'EPERM')
    return new InputFault(`${name}: may not be read; check its permissions`)
  if (code === 'EISDIR') return new InputFault(`${name} is a folder, not a file`)
  if (code?.startsWith('Z_') || code === 'ERR_BUFFER_TOO_LARGE') {
    return new InputFault(`${name}: damaged gzip data (${(error as Error).message})`)
  }
  return error
}

/** The file's bytes from the start, unpacked; counts the packed bytes for progress and caps the unpacked ones. */
export async function* unpackedBytes(
  file: string,
  packed: boolean,
  name: string,
  maxUnpackedBytes: number,
  onRead: (bytes: number) => void,
): AsyncGenerator<Buffer> {
  const source = createReadStream(file, { highWaterMark: 1 << 18 })
  source.on('data', piece => onRead(piece.length))
  source.pause()
  const stream = packed ? source.pipe(createGunzip()) : source
  source.on('error', error => stream.destroy(error))
  let unpacked = 0
  try {
    for await (const piece of stream as AsyncIterable<Buffer>) {
      unpacked += piece.length
      if (packed && unpacked > maxUnpackedBytes) {
        throw new InputFault(
          `${name}: unpacks to more than ${(maxUnpackedBytes / 1024 ** 2).toPrecision(3)} MiB; unpack it yourself if that is meant`,
        )
      }
      yield piece
    }
  } catch (error) {
    throw asInputFault(error, name)
  } finally {
    source.destroy()
  }
}

export async function firstLines(
  file: string,
  packed: boolean,
  name: string,
  maxUnpackedBytes: number,
): Promise<string[]> {
  const pieces: Buffer[] = []
  let length = 0
  for await (const piece of unpackedBytes(file, packed, name, maxUnpackedBytes, () => {})) {
    pieces.push(piece)
    length += piece.length
    if (length >= HEAD_BYTES) break
  }
  const head = Buffer.concat(pieces).subarray(0, HEAD_BYTES)
  if (
    head.length >= 2 &&
    ((head[0] === 0xff && head[1] === 0xfe) || (head[0] === 0xfe && head[1] === 0xff))
  ) {
    throw new InputFault(`${name}: is UTF-16 text; save it as UTF-8`)
  }
  if (head.includes(0)) throw new InputFault(`${name}: is not text; needs a CSV file`)
  const lines = head
    .toString('utf8')
    .replace(/^\ufeff/, '')
    .split(/\r?\n/)
  // The last line may be cut off by the limit.
  return length >= HEAD_BYTES ? lines.slice(0, -1) : lines
}

/** Leaves out the first lines of a byte stream, whatever quotes a preamble may hold. */
export async function* withoutLines(
  source: AsyncIterable<Buffer>,
  count: number,
): AsyncGenerator<Buffer> {
  let left = count
  for await (const piece of source) {
    let from = 0
    while (left > 0) {
      const end = piece.indexOf(10, from)
      if (end < 0) break
      from = end + 1
      left--
    }
    if (left === 0) yield from === 0 ? piece : piece.subarray(from)
  }
}
