import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'

/** The tokens of both schemes, as the style sheet states them. */
const css = readFileSync(new URL('../../web/style/tokens.css', import.meta.url), 'utf8')
const [lightPart, darkPart] = css.split('@media (prefers-color-scheme: dark)') as [string, string]
const tokensOf = (part: string) =>
  Object.fromEntries(
    [...part.matchAll(/--([\w-]+):\s*(#[0-9a-f]{6})\b/g)].map(match => [match[1]!, match[2]!]),
  )
const light = tokensOf(lightPart)
const dark: Record<string, string> = { ...light, ...tokensOf(darkPart) }

type Rgb = [number, number, number]

/** Linear light of an sRGB colour (IEC 61966-2-1, as WCAG 2.2 uses it; from memory). */
function linear(hex: string): Rgb {
  return [1, 3, 5].map(at => {
    const c = Number.parseInt(hex.slice(at, at + 2), 16) / 255
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4
  }) as Rgb
}

const luminance = ([r, g, b]: Rgb) => 0.2126 * r + 0.7152 * g + 0.0722 * b

/** WCAG 2.2, contrast ratio (from memory). */
function contrast(a: string, b: string): number {
  const [x, y] = [luminance(linear(a)), luminance(linear(b))].sort((p, q) => q - p) as [
    number,
    number,
  ]
  return (x + 0.05) / (y + 0.05)
}

test('the formula gives 21 for black on white and 4.54 for #767676 on white (WCAG, from memory)', () => {
  expect(contrast('#000000', '#ffffff')).toBeCloseTo(21, 6)
  expect(contrast('#767676', '#ffffff')).toBeCloseTo(4.54, 2)
})

const TEXT = ['ink', 'quiet', 'act', 'good', 'warn', 'bad']
const MARKS = ['voltage', 'current', 'speed', 'position', 'temperature', 'torque', 'edge-strong']
const GROUNDS = ['ground', 'plate', 'sunk']

describe.each([
  ['light', light],
  ['dark', dark],
])('the %s scheme', (_name, tokens) => {
  test.each(TEXT)('text in %s has a contrast of 4.5 on every ground', ink => {
    for (const ground of GROUNDS) {
      expect(contrast(tokens[ink]!, tokens[ground]!), ground).toBeGreaterThanOrEqual(4.5)
    }
  })

  test.each(MARKS)('a mark in %s has a contrast of 3 on every ground', ink => {
    for (const ground of GROUNDS) {
      expect(contrast(tokens[ink]!, tokens[ground]!), ground).toBeGreaterThanOrEqual(3)
    }
  })

  test.each([
    ['act-ink', 'act'],
    ['stop-ink', 'stop'],
    ['ink', 'warn-soft'],
    ['ink', 'bad-soft'],
    ['ink', 'act-soft'],
    ['warn', 'warn-soft'],
    ['bad', 'bad-soft'],
  ])('%s on %s has a contrast of 4.5', (ink, ground) => {
    expect(contrast(tokens[ink]!, tokens[ground]!)).toBeGreaterThanOrEqual(4.5)
  })
})

/**
 * What the colour-blind see, as matrices on linear light at full severity: Machado, Oliveira and
 * Fernandes, IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291 (from memory).
 */
const BLINDNESS: Readonly<Record<string, readonly Rgb[]>> = {
  protanopia: [
    [0.152286, 1.052583, -0.204868],
    [0.114503, 0.786281, 0.099216],
    [-0.003882, -0.048116, 1.051998],
  ],
  deuteranopia: [
    [0.367322, 0.860646, -0.227968],
    [0.280085, 0.672501, 0.047413],
    [-0.01182, 0.04294, 0.968881],
  ],
  tritanopia: [
    [1.255528, -0.076749, -0.178779],
    [-0.078411, 0.930809, 0.147602],
    [0.004733, 0.691367, 0.3039],
  ],
}

/** CIE L*a*b* under D65, from linear light (CIE 15; from memory). */
function lab(rgb: Rgb): Rgb {
  const [r, g, b] = rgb.map(c => Math.min(1, Math.max(0, c))) as Rgb
  const f = (t: number) => (t > 216 / 24389 ? Math.cbrt(t) : (24389 / 27 / 116) * t + 16 / 116)
  const x = f((0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505)
  const y = f(0.2126 * r + 0.7152 * g + 0.0722 * b)
  const z = f((0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089)
  return [116 * y - 16, 500 * (x - y), 200 * (y - z)]
}

/** Distance of two colours as somebody sees them: 2 is just noticeable, 20 tells lines apart at a glance. */
function distance(a: string, b: string, sight: readonly Rgb[]): number {
  const seen = (hex: string) => {
    const rgb = linear(hex)
    return lab(sight.map(row => row.reduce((sum, m, i) => sum + m * rgb[i]!, 0)) as Rgb)
  }
  const [p, q] = [seen(a), seen(b)]
  return Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2])
}

const CHANNELS = ['voltage', 'current', 'speed'] as const

describe.each(Object.entries(BLINDNESS))('with %s', (_name, sight) => {
  test.each([
    ['light', light],
    ['dark', dark],
  ])('voltage, current and speed stay apart in the %s scheme', (_scheme, tokens) => {
    for (const [i, a] of CHANNELS.entries()) {
      for (const b of CHANNELS.slice(i + 1)) {
        expect(distance(tokens[a]!, tokens[b]!, sight), `${a} and ${b}`).toBeGreaterThan(20)
      }
    }
  })
})
