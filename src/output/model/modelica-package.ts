import type { MotorModel } from '../../contract/motor-model.ts'
import type { ParameterName } from '../../records/parameter.ts'
import { ascii, modelName, modelNotes, parameterNote, wrapped } from './model-notes.ts'
import { exampleVolt, runUpSec } from './motor-model.ts'

/** Parameter and its unit in the spelling of the Modelica language. */
const PARAMETER_LINES: readonly (readonly [ParameterName, string])[] = [
  ['resistance', 'Ohm'],
  ['inductance', 'H'],
  ['backEmfConstant', 'V.s/rad'],
  ['torqueConstant', 'N.m/A'],
  ['brushDrop', 'V'],
  ['coulombTorque', 'N.m'],
  ['staticTorque', 'N.m'],
  ['viscousCoefficient', 'N.m.s/rad'],
  ['windageCoefficient', 'N.m.s2/rad2'],
  ['offsetTorque', 'N.m'],
  ['inertia', 'kg.m2'],
]

/**
 * A motor as a Modelica package: `Equations` is the motor alone and needs no library, `RunUp` starts it from
 * rest, `Motor` gives it pins and a flange of the Modelica Standard Library. The equations are
 * `MODEL_EQUATIONS`.
 */
export function modelicaPackage(model: MotorModel): string {
  const name = modelName(model.motor)
  const value = (parameter: ParameterName) => model.parameters[parameter].value
  const { smoothing, referenceTemperatureCelsius: reference, copperZeroCelsius: zero } = model
  const declare = (type: string, what: string, unit: string, start: number, note: string) =>
    `    ${type} ${what}(unit="${unit}") = ${start} "${quoted(note)}";`
  const parameter = (what: string, unit: string, start: number, note: string) =>
    declare('parameter Real', what, unit, start, note)
  // Break-away torque is never below the sliding one.
  const breakAway = Math.max(value('staticTorque'), value('coulombTorque'))
  return [
    ...modelNotes(model).flatMap(text => wrapped(text, '// ')),
    'within ;',
    `package ${name} "Brushed DC motor from identification ${model.fit}"`,
    '  model Equations "The motor alone"',
    ...PARAMETER_LINES.map(([one, unit]) =>
      parameter(
        one,
        unit,
        one === 'staticTorque' ? breakAway : value(one),
        parameterNote(model, one),
      ),
    ),
    parameter(
      'viscousDifference',
      'N.m.s/rad',
      model.viscousDifferenceNmsPerRad,
      'Half of what viscous friction forward exceeds that backward',
    ),
    parameter('brushKnee', 'A', smoothing.brushKneeAmp, 'Width of the brush drop'),
    parameter('slowSpeed', 'rad/s', smoothing.slowSpeedRadPerSec, 'Width of friction at rest'),
    parameter('heating', '1/(A2.s)', model.heatingPerA2s, 'Relative rise of the resistance'),
    parameter('cooling', '1/s', model.coolingPerSec, 'Decay of that rise'),
    parameter('celsius', 'degC', reference, 'Winding before it heats itself'),
    `    parameter Real ratio = (${zero} + celsius)/(${zero} + ${reference}) "Copper";`,
    '    input Real v(unit="V") "Voltage between the terminals";',
    '    input Real loadTorque(unit="N.m") "Against positive rotation";',
    '    Real i(unit="A", start=0, fixed=true) "Current into the positive terminal";',
    '    Real w(unit="rad/s", start=0, fixed=true) "Speed of the shaft";',
    '    Real rise(start=0, fixed=true) "Of the resistance, in parts of that at reference temperature";',
    '    Real drag(unit="N.m") "Friction";',
    '    Real u "Speed in parts of that of break-away";',
    '  equation',
    '    inductance*der(i) = v - resistance*(ratio + rise)*i - backEmfConstant*w - brushDrop*tanh(i/brushKnee);',
    '    inertia*der(w) = torqueConstant*i - drag - offsetTorque - loadTorque;',
    '    der(rise) = heating*i*i*(ratio + rise) - cooling*rise;',
    '    u = w/(3*slowSpeed);',
    '    drag = coulombTorque*tanh(w/slowSpeed) + (staticTorque - coulombTorque)*u*exp(0.5 - 0.5*u*u)',
    '      + viscousCoefficient*w + viscousDifference*abs(w) + windageCoefficient*w*abs(w);',
    '  end Equations;',
    '',
    '  model RunUp "From rest, nothing on the shaft"',
    `    parameter Real supply(unit="V") = ${exampleVolt(model.tested)};`,
    '    Equations motor(v=supply, loadTorque=0);',
    `    annotation(experiment(StopTime=${runUpSec(model)}, Tolerance=1e-8));`,
    '  end RunUp;',
    '',
    '  model Motor "With pins and a flange of the Modelica Standard Library"',
    '    Modelica.Electrical.Analog.Interfaces.PositivePin plus;',
    '    Modelica.Electrical.Analog.Interfaces.NegativePin minus;',
    '    Modelica.Mechanics.Rotational.Interfaces.Flange_a shaft;',
    '    Equations core(v=plus.v - minus.v, loadTorque=-shaft.tau);',
    '  equation',
    '    plus.i = core.i;',
    '    minus.i = -core.i;',
    '    der(shaft.phi) = core.w;',
    '  end Motor;',
    `end ${name};`,
    '',
  ].join('\n')
}

const quoted = (text: string) => ascii(text).replaceAll('\\', '\\\\').replaceAll('"', '\\"')
