import type { StepId } from './step.ts'

export type AnswerValue = string | number | boolean | null

/** How a question may be answered. Numbers are in the unit named, as the operator thinks of them. */
export type AnswerForm =
  /** One act: 'I have read and understood'. The answer is true. */
  | { readonly kind: 'acknowledge'; readonly label: string }
  | { readonly kind: 'confirm'; readonly yes: string; readonly no: string }
  | { readonly kind: 'choice'; readonly choices: readonly { value: string; label: string }[] }
  | {
      readonly kind: 'number'
      readonly unit: string
      readonly minimum: number
      readonly maximum: number
      /** The answer may be null: not known. */
      readonly optional: boolean
    }
  | { readonly kind: 'text'; readonly maxLength: number; readonly optional: boolean }

export interface Question {
  /** Stable name: `cautions`, `ambient`, `clamp-2`, … */
  readonly id: string
  readonly step: StepId
  readonly text: string
  /** Longer help, or what to look at; null where the text says all. */
  readonly detail: string | null
  readonly form: AnswerForm
  /** Suggested answer; the one that `--yes` gives on a simulated rig. Null: none, or 'not known'. */
  readonly suggested: AnswerValue
  /** Hands come near the shaft. Asked only after `made-safe`: disarmed, at standstill, terminals dead. */
  readonly handsNear: boolean
}
