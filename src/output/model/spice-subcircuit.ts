import type { MotorModel } from '../../contract/motor-model.ts'
import type { ParameterName } from '../../records/parameter.ts'
import { modelName, modelNotes, parameterNote, wrapped } from './model-notes.ts'
import { exampleVolt, runUpSec } from './motor-model.ts'

/** Names in the text, so that it reads like the equations. */
const NAMES: Readonly<Record<ParameterName, string>> = {
  resistance: 'r_winding',
  inductance: 'l_winding',
  backEmfConstant: 'k_emf',
  torqueConstant: 'k_torque',
  brushDrop: 'v_brush',
  coulombTorque: 't_sliding',
  staticTorque: 't_breakaway',
  viscousCoefficient: 'b_viscous',
  windageCoefficient: 'c_windage',
  offsetTorque: 't_offset',
  inertia: 'j_rotor',
}

/** Leak beside the heat, so that no node floats: 1e-12 of the rise a second. */
const LEAK_OHM = 1e12

/**
 * A motor as a SPICE subcircuit: nodes `plus` and `minus` are its terminals, `shaft` its shaft: 1 V there is
 * 1 rad/s, 1 A drawn from there is 1 N m of load. The equations are `MODEL_EQUATIONS`, element by element.
 * Elements R, L, C, V and the arbitrary source B with tanh, exp and abs; a subcircuit with parameters. Braces
 * hold one name each: some simulators put the text of what is in them in its place, without brackets.
 */
export function spiceSubcircuit(model: MotorModel): string {
  const name = modelName(model.motor)
  const value = (parameter: ParameterName) => model.parameters[parameter].value
  const has = (parameter: ParameterName) => value(parameter) !== 0
  const warms = model.heatingPerA2s > 0
  const sticks = value('staticTorque') > value('coulombTorque')
  const differs = model.viscousDifferenceNmsPerRad !== 0
  const used = (Object.keys(NAMES) as ParameterName[]).filter(
    parameter => has(parameter) && (parameter !== 'staticTorque' || sticks),
  )
  const w = 'V(shaft)'
  const drag = [
    has('coulombTorque') ? `{t_sliding}*tanh(${w}/{w_slow})` : null,
    sticks ? `{t_extra}*(${w}/{w_break})*exp(0.5-0.5*(${w}/{w_break})*(${w}/{w_break}))` : null,
    has('viscousCoefficient') ? `{b_viscous}*${w}` : null,
    differs ? `{b_difference}*abs(${w})` : null,
    has('windageCoefficient') ? `{c_windage}*${w}*abs(${w})` : null,
    has('offsetTorque') ? '{t_offset}' : null,
  ].filter(term => term !== null)
  const reference = model.referenceTemperatureCelsius
  const zero = model.copperZeroCelsius
  const volt = exampleVolt(model.tested)
  const sec = runUpSec(model)
  const step = Number((sec / 2000).toPrecision(3))
  const comment = (text: string) => wrapped(text, '* ')
  const parameter = (line: string, note: string) => `.param ${line} ; ${note}`
  return [
    ...modelNotes(model).flatMap(comment),
    '*',
    ...comment(
      'Nodes: plus and minus are the terminals; at shaft 1 V is 1 rad/s, and 1 A drawn from it is 1 N m of load.',
    ),
    ...comment(
      `celsius: the winding before it heats itself${warms ? '; warms=0 holds it there (for .op and .dc)' : ''}.`,
    ),
    '* A run-up from rest:',
    `*   Vsupply plus 0 PWL(0 0 1u ${volt})`,
    `*   Xmotor plus 0 shaft ${name}`,
    `*   .tran ${step} ${sec} 0 ${step} uic`,
    '*',
    `.subckt ${name} plus minus shaft params: celsius=${reference}${warms ? ' warms=1' : ''}`,
    ...used.map(one => parameter(`${NAMES[one]}=${value(one)}`, parameterNote(model, one))),
    ...(differs
      ? [
          parameter(
            `b_difference=${model.viscousDifferenceNmsPerRad}`,
            'N m s/rad, viscous friction forward over that backward, half the difference',
          ),
        ]
      : []),
    ...(has('brushDrop')
      ? [parameter(`i_knee=${model.smoothing.brushKneeAmp}`, 'A, width of the brush drop')]
      : []),
    parameter(`w_slow=${model.smoothing.slowSpeedRadPerSec}`, 'rad/s, width of friction at rest'),
    ...(sticks
      ? [
          '.param t_extra={t_breakaway-t_sliding}',
          '.param w_break={3*w_slow} ; rad/s, where the shaft breaks away',
        ]
      : []),
    parameter(`r_ratio={(${zero}+celsius)/(${zero}+${reference})}`, 'copper'),
    '.param r_start={r_winding*r_ratio}',
    ...(warms
      ? [
          parameter(`h_heat=${model.heatingPerA2s}`, '1/(A^2 s), relative rise of the resistance'),
          parameter(`c_cool=${model.coolingPerSec}`, '1/s, its decay'),
          '.param h_at_work={warms*h_heat}',
        ]
      : []),
    'Vcurrent plus 1 0',
    'Lwinding 1 2 {l_winding}',
    'Rwinding 2 3 {r_start}',
    ...(warms ? ['Bwarm 3 4 V={r_winding}*V(warm)*I(Vcurrent)'] : ['Vwarm 3 4 0']),
    has('brushDrop') ? 'Bbrush 4 5 V={v_brush}*tanh(I(Vcurrent)/{i_knee})' : 'Vbrush 4 5 0',
    `Bemf 5 minus V={k_emf}*${w}`,
    'Btorque 0 shaft I={k_torque}*I(Vcurrent)',
    ...(drag.length > 0 ? [`Bdrag shaft 0 I=${drag.join(' + ')}`] : []),
    'Crotor shaft 0 {j_rotor} ic=0',
    ...(warms
      ? [
          'Bheat 0 warm I={h_at_work}*I(Vcurrent)*I(Vcurrent)*({r_ratio}+V(warm)) - {c_cool}*V(warm)',
          'Cheat warm 0 1 ic=0',
          `Rheat warm 0 ${LEAK_OHM}`,
        ]
      : []),
    `.ends ${name}`,
    '',
  ].join('\n')
}
