/** How the brush drop follows the current: bent, a jump at nil, or none. */
export const BRUSH_DROP_LAWS = ['tanh', 'sgn', 'none'] as const
export type BrushDropLaw = (typeof BRUSH_DROP_LAWS)[number]

/** One viscous friction for both directions, or one for each. */
export const FRICTION_LAWS = ['one', 'by-direction'] as const
export type FrictionLaw = (typeof FRICTION_LAWS)[number]
