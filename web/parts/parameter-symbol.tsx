/** `T_offset` with its index set low. */
export function ParameterSymbol({ text }: { text: string }) {
  const [letter, index] = text.split('_')
  return (
    <span class="symbol">
      {letter}
      {index && <sub>{index}</sub>}
    </span>
  )
}
