import { endianness } from 'node:os'

type NumberArray = Int16Array | Int32Array | Float32Array | Float64Array | Uint8Array

interface NumberArrayType<T extends NumberArray> {
  new (buffer: ArrayBuffer, byteOffset: number, length: number): T
  readonly BYTES_PER_ELEMENT: number
}

/** The numbers as little-endian bytes, on any machine. The bytes may share the array's memory. */
export function blobOf(values: NumberArray): Buffer {
  const bytes = Buffer.from(values.buffer, values.byteOffset, values.byteLength)
  return endianness() === 'LE' ? bytes : swapped(Buffer.from(bytes), values.BYTES_PER_ELEMENT)
}

/** The numbers in a blob: read in place where it lies well in memory, else from a copy. */
export function numbersOf<T extends NumberArray>(blob: Buffer, type: NumberArrayType<T>): T {
  const size = type.BYTES_PER_ELEMENT
  const aligned = blob.byteOffset % size === 0 && endianness() === 'LE'
  const bytes = aligned ? blob : swapped(Buffer.from(new Uint8Array(blob)), size)
  return new type(bytes.buffer as ArrayBuffer, bytes.byteOffset, bytes.byteLength / size)
}

function swapped(bytes: Buffer, size: number): Buffer {
  if (endianness() === 'LE' || size === 1) return bytes
  if (size === 2) return bytes.swap16()
  return size === 4 ? bytes.swap32() : bytes.swap64()
}
