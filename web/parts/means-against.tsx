import { intervalText, quantityText } from '../../src/base/quantity-text.ts'
import { chanceText } from '../../src/output/batch/spread-words.ts'
import type { BatchComparison } from '../../src/quality/batch-comparison.ts'

/** The means of two batches, quantity by quantity (Welch). */
export function MeansAgainst({ against }: { against: NonNullable<BatchComparison['against']> }) {
  return (
    <section class="plate samples-scroll">
      <h2>Means against {against.batch} (Welch)</h2>
      {against.means.length === 0 ? (
        <p>Nothing to compare: a mean needs two values in each batch.</p>
      ) : (
        <table class="samples-table">
          <thead>
            <tr>
              <th scope="col">Quantity</th>
              <th scope="col" class="number">
                Difference
              </th>
              <th scope="col" class="number">
                95 % interval
              </th>
              <th scope="col" class="number">
                p
              </th>
            </tr>
          </thead>
          <tbody>
            {against.means.map(({ quantity, label, unit, comparison: c }) => (
              <tr key={quantity}>
                <th scope="row">{label}</th>
                <td class="number">{quantityText(c.difference, unit).text}</td>
                <td class="number">{intervalText(c.lower95, c.upper95, unit).text}</td>
                <td class="number">{chanceText(c.p)}</td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </section>
  )
}
