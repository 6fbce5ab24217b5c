import type uPlot from 'uplot'
import type { SeriesView } from '../../src/contract/http-runs.ts'
import type { Quantity } from '../../src/records/quantity.ts'
import { channelScale, SHOWN } from '../display.ts'

const ORDER: readonly Quantity[] = [
  'voltage',
  'current',
  'speed',
  'position',
  'torque',
  'temperature',
  'ambient',
]

type Column = (number | null)[]

/** One channel as it is drawn: measured with the fitted line, or the difference of both. */
export interface Panel {
  readonly key: string
  readonly quantity: Quantity
  readonly kind: 'measured' | 'residual'
  readonly data: uPlot.AlignedData
  readonly unit: string
  readonly factor: number
  readonly rms: number | null
}

/** What a panel shows, in words. */
export function words({ quantity, kind, unit, data }: Panel): string {
  const name = SHOWN[quantity].label
  if (kind === 'residual') return `${name}, measured minus fitted, in ${unit}`
  return `${name} in ${unit}, measured${data.length > 3 ? ' and fitted' : ''}`
}

/** Panels in the order in which they stand below each other. */
export function makePanels(series: SeriesView): Panel[] {
  const panels: Panel[] = []
  for (const quantity of ORDER) {
    const measured = series.measured.find(one => one.quantity === quantity)
    if (!measured) continue
    const { factor, unit } = channelScale(quantity, largest(measured.low, measured.high))
    const fitted = series.fitted.find(one => one.quantity === quantity)
    const scaled = (column: Column) => column.map(v => (v === null ? null : v * factor))
    panels.push({
      key: quantity,
      quantity,
      kind: 'measured',
      unit,
      factor,
      rms: null,
      data: [
        series.x,
        scaled(measured.low),
        scaled(measured.high),
        ...(fitted ? [scaled(fitted.mean)] : []),
      ],
    })
    const residual = series.residual.find(one => one.quantity === quantity)
    if (!residual) continue
    const own = residualScale(quantity, largest(residual.low, residual.high))
    const inOwn = (column: Column) => column.map(v => (v === null ? null : v * own.factor))
    panels.push({
      key: `${quantity}-residual`,
      quantity,
      kind: 'residual',
      unit: own.unit,
      factor: own.factor,
      rms: residual.rms,
      data: [series.x, inOwn(residual.low), inOwn(residual.high)],
    })
  }
  return panels
}

const residualScale = (quantity: Quantity, size: number) => channelScale(quantity, size)

const largest = (low: Column, high: Column): number => {
  let most = 0
  for (const column of [low, high]) {
    for (const value of column) if (value !== null && Math.abs(value) > most) most = Math.abs(value)
  }
  return most
}
