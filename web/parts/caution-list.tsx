import { Glyph } from './glyph.tsx'

/** The usual cautions, each with a title that can be read from where one stands. */
export function CautionList(props: { cautions: readonly { title: string; text: string }[] }) {
  return (
    <ul class="cautions" aria-label="Cautions">
      {props.cautions.map(caution => (
        <li key={caution.title}>
          <Glyph name="warn" />
          <h3>{caution.title}</h3>
          <p>{caution.text}</p>
        </li>
      ))}
    </ul>
  )
}
