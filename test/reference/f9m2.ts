/**
 * Tables read by hand on a disc-armature servo motor F9M2. Aalborg University student report CE6-633, appendices on
 * motor tests. The report's maker data: R 0.43 ohm, k_t 0.030 N m/A, k_e 0.0296 V s/rad.
 */
export const F9M2_SOURCE = 'Aalborg University student report CE6-633, appendices'

/** Locked rotor: voltage over current. */
export const F9M2_STALL = {
  voltage: Float64Array.of(
    0.5, 1, 1.5, 2, 2.49, 2.98, 3.5, 3.99, 4.5, 4.98, 5.54, 6.02, 6.51, 7.01,
  ),
  current: Float64Array.of(
    0.33, 0.71, 1.13, 1.67, 2.34, 2.94, 3.75, 4.68, 5.54, 6.11, 6.46, 7.4, 8.26, 9.14,
  ),
}

/** Locked rotor: torque over current. */
export const F9M2_TORQUE = {
  current: Float64Array.of(4, 4.5, 5, 5.5, 6, 6.5, 7, 7.5, 8, 8.5, 9, 9.5, 10),
  torque: Float64Array.of(
    0.1164, 0.1314, 0.1498, 0.1606, 0.1824, 0.1896, 0.205, 0.2192, 0.2332, 0.2478, 0.2604, 0.275,
    0.29,
  ),
}

/** Free run: voltage, current and speed. */
export const F9M2_FREE_RUN = {
  voltage: Float64Array.of(
    3, 3.5, 4, 4.5, 5, 5.5, 6, 6.5, 7, 7.5, 8, 8.5, 9, 9.5, 10, 10.5, 11, 11.5, 12,
  ),
  current: Float64Array.of(
    0.72, 0.75, 0.77, 0.79, 0.83, 0.85, 0.88, 0.9, 0.93, 0.94, 0.95, 0.96, 0.99, 1, 1.02, 1.03,
    1.06, 1.06, 1.05,
  ),
  speed: Float64Array.of(
    52.36, 67.54, 83.15, 98.75, 113.1, 126.71, 140.95, 156.03, 170.38, 185.35, 198.97, 214.68,
    229.34, 244.31, 258.66, 274.05, 289.03, 304.73, 321.49,
  ),
}

/** Free run: current over speed, for friction. */
export const F9M2_FRICTION = {
  current: Float64Array.of(
    0.74, 0.76, 0.78, 0.8, 0.82, 0.84, 0.86, 0.88, 0.9, 0.92, 0.94, 0.96, 0.98, 1, 1.03,
  ),
  speed: Float64Array.of(
    89, 96.9, 106.8, 116.2, 128.8, 144.5, 150.8, 165.5, 184.3, 204.2, 216.8, 232.5, 252.4, 289,
    321.5,
  ),
}
