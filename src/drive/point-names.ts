import type { OperatingPoint } from '../contract/withstand-document.ts'

/** How operating points are called, and what holds of each. */
export const POINT_NAMES: Readonly<
  Record<OperatingPoint['action'], { label: string; formula: string; validity: string }>
> = {
  drive: {
    label: 'driving the load',
    formula: 'V = (R(T) + R_series) i + V_b + k_e ω, T_load = k_t i − T_c − B ω − C ω²',
    validity: 'steady, full duty',
  },
  'hold-back': {
    label: 'holding the load back at that speed',
    formula: 'k_t i = T_c + B ω + C ω² − T_load, v = (R(T) + R_bridge + R_wiring) i ± V_b + k_e ω',
    validity: "steady, the load drives with its torque; the supply's resistance left out",
  },
  brake: {
    label: 'braking hardest from that speed',
    formula: 'i = the limit, or (k_e ω − V_b)/(R(T) + R_bridge + R_wiring) with shorted terminals',
    validity: "the first moment; reverse voltage not used; the supply's resistance left out",
  },
}
