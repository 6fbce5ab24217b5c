/** Why a recording tells no speed, in one line; never a number instead. */
export type RippleFault =
  | { readonly code: 'missing-channel'; readonly text: string }
  | { readonly code: 'bad-count'; readonly text: string }
  | { readonly code: 'too-short'; readonly text: string }
  | { readonly code: 'saturated'; readonly text: string }
  | { readonly code: 'not-turning'; readonly text: string }
  | { readonly code: 'no-ripple'; readonly text: string }
  | { readonly code: 'sampled-too-slowly'; readonly text: string; readonly neededHz: number }
  | { readonly code: 'switching-in-step'; readonly text: string }
  | { readonly code: 'ambiguous'; readonly text: string }

export type RippleFaultCode = RippleFault['code']
