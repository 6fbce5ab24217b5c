/** Something about a run's channels that makes numbers wrong without making them impossible. */
export interface ChannelFinding {
  readonly code:
    | 'constant-channel'
    | 'saturated-channel'
    | 'missing-samples'
    | 'swapped-channels'
    | 'speed-unit'
    | 'current-polarity'
    | 'coarse-time'
    | 'no-zero'
    | 'raw-pwm'
    | 'supply-voltage'
  readonly text: string
  /** Whatever the run says would be wrong: it has to be left out. */
  readonly spoils: boolean
}
