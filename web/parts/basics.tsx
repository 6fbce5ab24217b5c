import type { ComponentChildren } from 'preact'
import { ENDING_WORDS } from '../display.ts'
import type { RunEnding } from '../../src/records/test-kind.ts'
import type { Loaded } from '../state/load.ts'
import { Glyph } from './glyph.tsx'

/** What a view shows before its data is there: nothing for a moment, then a word. */
export function Working({ text = 'Loading' }: { text?: string }) {
  return (
    <p class="working" role="status">
      {text} …
    </p>
  )
}

/** Something went wrong: what, and what to do next. */
export function Trouble({ text, children }: { text: string; children?: ComponentChildren }) {
  return (
    <div class="caution" data-tone="bad" role="alert">
      <Glyph name="warn" />
      <div class="stack">
        <p>{text}</p>
        {children}
      </div>
    </div>
  )
}

/** A view whose data is not there: still on its way, or what went wrong and where to go from here. */
export function Unloaded({ fault, reload }: Pick<Loaded<unknown>, 'fault' | 'reload'>) {
  if (!fault) return <Working />
  return (
    <>
      <header class="head">
        <h1>{fault.code === 'unreachable' ? 'No word from the server' : 'Nothing to show'}</h1>
      </header>
      <Trouble text={fault.message}>
        <div class="row">
          <button type="button" class="first" onClick={reload}>
            Try again
          </button>
          <a class="button" href="/motors">
            All motors
          </a>
        </div>
      </Trouble>
    </>
  )
}

export function Caution({ children }: { children: ComponentChildren }) {
  return (
    <div class="caution">
      <Glyph name="warn" />
      <div>{children}</div>
    </div>
  )
}

/** Nothing here yet: says so, and what to do about it. */
export function Blank(props: { glyph: string; title: string; children: ComponentChildren }) {
  return (
    <section class="blank">
      <Glyph name={props.glyph} />
      <h2>{props.title}</h2>
      {props.children}
    </section>
  )
}

/** How a run ended: a mark and a word, never colour alone. */
export function Ending({ ending }: { ending: RunEnding }) {
  const { text, tone, glyph } = ENDING_WORDS[ending]
  return (
    <span class="stamp" data-tone={tone}>
      <Glyph name={glyph} />
      {text}
    </span>
  )
}

/** A number and its unit, set apart a little so that the number is read first. */
export function Figure({ number, unit }: { number: string; unit: string }) {
  return (
    <span class="number">
      {number}
      {unit !== '' && <span class="unit quiet">{`\u00a0${unit}`}</span>}
    </span>
  )
}
