/** Values of the names in an expression at one moment. */
export type Values = Readonly<Record<string, number>>
export type Expression = (values: Values) => number

const FUNCTIONS: Readonly<Record<string, (x: number) => number>> = {
  tanh: Math.tanh,
  exp: Math.exp,
  abs: Math.abs,
}

/**
 * Reads an expression of SPICE or Modelica: + − * /, brackets, tanh, exp, abs; `V(node)` and `I(source)` are
 * names of their own; braces are brackets. Names are told apart by case.
 */
export function readExpression(text: string): Expression {
  const tokens =
    text.match(/[VI]\([A-Za-z]\w*\)|\d+\.?\d*(?:[eE][-+]?\d+)?|[A-Za-z_]\w*|[-+*/(){}]/g) ?? []
  let at = 0
  const expect = (wanted: string) => {
    if (tokens[at++] !== wanted) throw new Error(`'${wanted}' expected in ${text}`)
  }
  const atom = (): Expression => {
    const token = tokens[at++]
    if (token === undefined) throw new Error(`unfinished: ${text}`)
    if (token === '-') {
      const inner = atom()
      return values => -inner(values)
    }
    if (token === '(' || token === '{') {
      const inner = sum()
      expect(token === '(' ? ')' : '}')
      return inner
    }
    if (/^\d/.test(token)) return () => Number(token)
    const call = FUNCTIONS[token]
    if (call && tokens[at] === '(') {
      at++
      const inner = sum()
      expect(')')
      return values => call(inner(values))
    }
    return values => {
      const value = values[token]
      if (value === undefined) throw new Error(`${token} has no value in ${text}`)
      return value
    }
  }
  const product = (): Expression => {
    let left = atom()
    while (tokens[at] === '*' || tokens[at] === '/') {
      const [a, times] = [left, tokens[at++] === '*']
      const b = atom()
      left = times ? values => a(values) * b(values) : values => a(values) / b(values)
    }
    return left
  }
  const sum = (): Expression => {
    let left = product()
    while (tokens[at] === '+' || tokens[at] === '-') {
      const [a, plus] = [left, tokens[at++] === '+']
      const b = product()
      left = plus ? values => a(values) + b(values) : values => a(values) - b(values)
    }
    return left
  }
  const whole = sum()
  if (at !== tokens.length) throw new Error(`${tokens[at]} unexpected in ${text}`)
  return whole
}

/** States of an exported motor and their derivatives at a voltage, read from its text. */
export interface MotorText {
  derivatives(states: readonly number[], volt: number): readonly number[]
}

/** The `Equations` model of a Modelica package: parameters and equations as they stand in the text. */
export function readModelica(text: string): MotorText {
  const model = text.match(/ {2}model Equations[\s\S]*? {2}end Equations;/)![0]
  const [declared, equations] = model.split('  equation\n') as [string, string]
  const parameters: Record<string, number> = {}
  for (const [, name, value] of declared.matchAll(
    /parameter Real (\w+)(?:\(unit="[^"]*"\))? = ([^"]+) "/g,
  )) {
    parameters[name!] = readExpression(value!)(parameters)
  }
  const sides = equations
    .replace(/ {2}end Equations;/, '')
    .split(';')
    .map(one => one.replaceAll(/\s+/g, ' ').trim())
    .filter(one => one !== '')
    .map(one => one.split(' = ') as [string, string])
  const define = (name: string) => readExpression(sides.find(([left]) => left === name)![1])
  const [u, drag] = [define('u'), define('drag')]
  const slopes = ['i', 'w', 'rise'].map(state => {
    const [left, right] = sides.find(([side]) => side.endsWith(`der(${state})`))!
    const factor = left === `der(${state})` ? '1' : left.replace(`*der(${state})`, '')
    return [readExpression(factor), readExpression(right)] as const
  })
  const known: Record<string, number> = { ...parameters, loadTorque: 0 }
  return {
    derivatives([i, w, rise], v) {
      known.i = i!
      known.w = w!
      known.rise = rise!
      known.v = v
      known.u = u(known)
      known.drag = drag(known)
      return slopes.map(([factor, right]) => right(known) / factor(known))
    },
  }
}

/**
 * A SPICE subcircuit whose elements between plus and minus lie in one loop: its inductor's and capacitors'
 * equations, by Kirchhoff's laws from the lines of the netlist.
 */
export function readNetlist(text: string): MotorText {
  const lines = text.split('\n').filter(line => line !== '' && !line.startsWith('*'))
  const parameters: Record<string, number> = {}
  const set = (name: string, value: string) => {
    parameters[name] = readExpression(value)(parameters)
  }
  for (const [, name, value] of lines[0]!.matchAll(/(\w+)=(\S+)/g)) set(name!, value!)
  const elements = lines.slice(1, -1).filter(line => !line.startsWith('.param'))
  for (const line of lines.filter(one => one.startsWith('.param'))) {
    const [, name, value] = line.match(/^\.param (\w+)=([^;]+)/)!
    set(name!, value!.trim())
  }
  const parts = elements.map(line => {
    const [, name, from, to, value] = line.match(/^(\w+) (\w+) (\w+) (.+)$/)!
    return { name: name!, from: from!, to: to!, value: value!.replace(/ ic=.*$/, '') }
  })
  const isLoop = (part: (typeof parts)[number]) => part.name !== 'Lwinding' && inLoop.has(part.name)
  const inLoop = new Set<string>()
  for (let node = 'plus'; node !== 'minus'; ) {
    const next = parts.find(part => part.from === node)
    if (!next) throw new Error(`nothing goes on from node ${node}`)
    inLoop.add(next.name)
    node = next.to
  }
  const number = (value: string) => readExpression(value)(parameters)
  const drops = parts.filter(isLoop).map(({ name, value }): Expression => {
    if (name.startsWith('B')) return readExpression(value.replace('V=', ''))
    const amount = number(value)
    return name.startsWith('R') ? values => amount * values['I(Vcurrent)']! : () => amount
  })
  const henry = number(parts.find(part => part.name === 'Lwinding')!.value)
  const nodes = ['shaft', 'warm'].map(node => {
    const capacitor = parts.find(part => part.name.startsWith('C') && part.from === node)
    const flows = parts
      .filter(part => !inLoop.has(part.name) && part !== capacitor)
      .filter(part => part.from === node || part.to === node)
      .map(({ name, to, value }): Expression => {
        const sign = to === node ? 1 : -1
        if (name.startsWith('R')) {
          const ohm = number(value)
          return values => (sign * values[`V(${node})`]!) / ohm
        }
        const flow = readExpression(value.replace('I=', ''))
        return values => sign * flow(values)
      })
    return { farad: capacitor ? number(capacitor.value) : 1, flows }
  })
  const known: Record<string, number> = { ...parameters }
  return {
    derivatives([i, w, rise], volt) {
      known['I(Vcurrent)'] = i!
      known['V(shaft)'] = w!
      known['V(warm)'] = rise!
      const left = drops.reduce((sum, drop) => sum - drop(known), volt)
      return [
        left / henry,
        ...nodes.map(
          ({ farad, flows }) => flows.reduce((sum, flow) => sum + flow(known), 0) / farad,
        ),
      ]
    },
  }
}

/** Runge and Kutta's classic fourth-order method with fixed steps; one row a sample. */
export function integrate(
  motor: MotorText,
  volt: (timeSec: number) => number,
  timeSec: Float64Array,
  stepSec: number,
): { readonly current: Float64Array; readonly speed: Float64Array } {
  let states: readonly number[] = [0, 0, 0]
  const current = new Float64Array(timeSec.length)
  const speed = new Float64Array(timeSec.length)
  const plus = (a: readonly number[], b: readonly number[], h: number) =>
    a.map((value, j) => value + h * b[j]!)
  for (let row = 1; row < timeSec.length; row++) {
    const span = timeSec[row]! - timeSec[row - 1]!
    const steps = Math.round(span / stepSec)
    const h = span / steps
    for (let step = 0; step < steps; step++) {
      const v = volt(timeSec[row - 1]! + (step + 0.5) * h)
      const a = motor.derivatives(states, v)
      const b = motor.derivatives(plus(states, a, h / 2), v)
      const c = motor.derivatives(plus(states, b, h / 2), v)
      const d = motor.derivatives(plus(states, c, h), v)
      const before = states
      states = before.map((x, j) => x + (h / 6) * (a[j]! + 2 * b[j]! + 2 * c[j]! + d[j]!))
    }
    current[row] = states[0]!
    speed[row] = states[1]!
  }
  return { current, speed }
}
