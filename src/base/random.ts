/** A source of uniform numbers in [0, 1). Always passed in; nothing in `src` owns one. */
export type Uniform = () => number

/**
 * Seeded uniform generator (xoshiro128**, Blackman and Vigna 2018), state spread from the seed by splitmix32.
 * The same seed gives the same numbers on every platform.
 */
export function seededUniform(seed: number): Uniform {
  let mix = seed | 0
  const next = () => {
    mix = (mix + 0x9e3779b9) | 0
    let z = mix ^ (mix >>> 16)
    z = Math.imul(z, 0x21f0aaad)
    z ^= z >>> 15
    z = Math.imul(z, 0x735a2d97)
    return (z ^ (z >>> 15)) >>> 0
  }
  let a = next()
  let b = next()
  let c = next()
  let d = next()
  return () => {
    const scrambled = Math.imul(rotateLeft(Math.imul(b, 5), 7), 9) >>> 0
    const shifted = b << 9
    c ^= a
    d ^= b
    b ^= c
    a ^= d
    c ^= shifted
    d = rotateLeft(d, 11)
    return scrambled / 4294967296
  }
}

function rotateLeft(x: number, bits: number): number {
  return (x << bits) | (x >>> (32 - bits))
}

/** Normal deviates of mean 0 and standard deviation 1 from a uniform source (Marsaglia's polar method). */
export function seededNormal(uniform: Uniform): () => number {
  let spare: number | null = null
  return () => {
    if (spare !== null) {
      const value = spare
      spare = null
      return value
    }
    for (;;) {
      const u = 2 * uniform() - 1
      const v = 2 * uniform() - 1
      const s = u * u + v * v
      if (s > 0 && s < 1) {
        const scale = Math.sqrt((-2 * Math.log(s)) / s)
        spare = v * scale
        return u * scale
      }
    }
  }
}
