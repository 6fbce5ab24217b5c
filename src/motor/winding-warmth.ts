import type { ModelPoint } from './parameters.ts'

/**
 * The winding's resistance within a run over that at the reference temperature, as current heats it and the
 * rest of the motor cools it, with what heating and cooling have made of it so far.
 */
export class WindingWarmth {
  /** ∂ln R/∂heating and ∂ln R/∂cooling at the end of the last step. */
  heatingSlope = 0
  coolingSlope = 0
  private ratio = 1
  private startRatio = 1
  private ratioByHeating = 0
  private ratioByCooling = 0

  begin(startRatio: number): void {
    this.ratio = startRatio
    this.startRatio = startRatio
    this.ratioByHeating = 0
    this.ratioByCooling = 0
  }

  /** Mean resistance of the next step, in which i² dt comes to `heat`. */
  step(point: ModelPoint, heat: number, durationSec: number): number {
    const { ratio: before, startRatio } = this
    const loss = point.coolingPerSec * durationSec
    const factor = Math.exp(point.heatingPerA2s * heat - loss)
    this.ratioByHeating = this.ratioByHeating * factor + before * heat
    this.ratioByCooling = this.ratioByCooling * factor - (before - startRatio) * durationSec
    this.ratio = before * factor + loss * startRatio
    this.heatingSlope = this.ratioByHeating / this.ratio
    this.coolingSlope = this.ratioByCooling / this.ratio
    return (point.resistanceOhm * (before + this.ratio)) / 2
  }
}
