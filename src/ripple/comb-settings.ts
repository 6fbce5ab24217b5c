/** What is known of a winding before its lines are looked for. */
export interface CombSettings {
  readonly ripplesPerTurn: number
  /** Parallel paths of the winding make the pattern repeat 2p times a turn; other orders tell nothing. */
  readonly stride: number
}
