/** Where a line of so many periods a sample shows, from 0 to ½. */
export const alias = (periodsPerSample: number) =>
  Math.abs(periodsPerSample - Math.round(periodsPerSample))
