/** Share of the rows that may carry the time of the row before. */
const REPEATED = 0.01

/** Share of the rows whose time stamp is that of the row before. */
export function repeatedTimes(timeSec: Float64Array): number {
  let repeated = 0
  for (let i = 1; i < timeSec.length; i++) if (timeSec[i] === timeSec[i - 1]) repeated++
  return timeSec.length > 1 ? repeated / (timeSec.length - 1) : 0
}

/** Time stamps too coarse for their rows: how fast anything changes cannot be told. */
export function isCoarse(timeSec: Float64Array | null): boolean {
  return timeSec !== null && repeatedTimes(timeSec) > REPEATED
}
