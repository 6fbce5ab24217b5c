/** Ways in which a model leaves, by the ending of the file: SPICE, Modelica, numbers. */
export const MODEL_FORMATS = ['cir', 'mo', 'json'] as const

export type ModelFormat = (typeof MODEL_FORMATS)[number]
