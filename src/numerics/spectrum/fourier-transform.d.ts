/** The part of the package that is used here; it carries no types of its own. */
declare module 'fourier-transform' {
  /**
   * Discrete Fourier transform of real input whose length is a power of two: real and imaginary parts of
   * bins 0 to N/2, not normalised. The arrays are the package's own and are written over by the next call of
   * the same length.
   */
  export function fft(input: Float64Array): [re: Float64Array, im: Float64Array]
}
