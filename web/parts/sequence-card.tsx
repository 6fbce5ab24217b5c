import { useEffect, useRef } from 'preact/hooks'
import type { BenchView, SequenceAct, SequenceScreen } from '../../src/contract/http-bench.ts'
import { call } from '../api.ts'
import { sentence, timeLeft } from '../display.ts'
import { useCell } from '../state/cell.ts'
import { diary, tell } from '../state/live.ts'
import { Caution } from './basics.tsx'
import { CautionList } from './caution-list.tsx'
import { Glyph } from './glyph.tsx'
import { Question } from './question.tsx'

/** The guided sequence: where it stands, what to do now, and one obvious next step. */
export function SequenceCard(props: {
  view: BenchView
  cautions: readonly { title: string; text: string }[]
  mayDrive: boolean
}) {
  const { view, cautions, mayDrive } = props
  const sequence = view.sequence!
  const act = (body: SequenceAct) =>
    call('actOnSequence', { body }).catch(fault => tell(fault.message, 'bad'))
  // What to do now is on screen, wherever the page was scrolled to.
  const top = useRef<HTMLDivElement>(null)
  useEffect(() => {
    top.current?.scrollIntoView({ block: 'nearest' })
  }, [sequence.current, sequence.phase, sequence.question?.id])
  return (
    <div class="stack">
      <div ref={top} class="stack landing">
        <Chain sequence={sequence} />
      </div>
      <section
        class="plate now"
        data-tone={sequence.phase === 'paused' ? 'paused' : 'going'}
        aria-label="What to do now"
      >
        <Heading sequence={sequence} />
        {sequence.phase === 'paused' ? (
          <Paused
            sequence={sequence}
            isLost={view.state === 'lost'}
            mayDrive={mayDrive}
            act={act}
          />
        ) : (
          <Doing sequence={sequence} />
        )}
        {sequence.question?.step === 'cautions' && <CautionList cautions={cautions} />}
        {sequence.question && (
          <Question
            key={sequence.question.id}
            question={sequence.question}
            disabled={!mayDrive}
            onAnswer={value => act({ act: 'answer', questionId: sequence.question!.id, value })}
          />
        )}
        {sequence.phase === 'finished' && <Finished view={view} act={act} />}
      </section>
      {sequence.warnings.length > 0 && (
        <Caution>
          <ul class="stack" style={{ gap: '6px' }}>
            {sequence.warnings.map(text => (
              <li key={text}>{text}</li>
            ))}
          </ul>
        </Caution>
      )}
      {sequence.phase !== 'finished' && mayDrive && <Moves sequence={sequence} act={act} />}
      <Diary />
    </div>
  )
}

function Heading({ sequence }: { sequence: SequenceScreen }) {
  const place = sequence.steps.findIndex(step => step.id === sequence.current)
  const step = sequence.steps[place]
  return (
    <div class="row apart">
      <h2>{step?.title}</h2>
      <p class="quiet small">
        step {place + 1} of {sequence.steps.length}
        {sequence.leftSec > 0 &&
          sequence.phase !== 'finished' &&
          `, about ${timeLeft(sequence.leftSec)} left`}
      </p>
    </div>
  )
}

function Doing({ sequence }: { sequence: SequenceScreen }) {
  return (
    <>
      {sequence.waitLeftSec !== null && (
        <div role="timer">
          <span class="countdown">{Math.max(0, Math.ceil(sequence.waitLeftSec))}</span> s{' '}
          <span class="quiet">{sequence.waitWhy}</span>
        </div>
      )}
      <p class="do" role="status">
        {sequence.question?.text ?? sequence.operatorDoes}
      </p>
      {sequence.rigDoes !== '' && (
        <p class="will">
          <Glyph name="running" />
          <span>{sequence.rigDoes}</span>
        </p>
      )}
    </>
  )
}

function Paused(props: {
  sequence: SequenceScreen
  isLost: boolean
  mayDrive: boolean
  act: (body: SequenceAct) => void
}) {
  const { sequence, isLost, mayDrive, act } = props
  return (
    <>
      <p class="do" role="alert">
        {sentence(sequence.pausedBecause ?? '')}
      </p>
      {sequence.operatorDoes !== '' && <p>{sequence.operatorDoes}</p>}
      {sequence.may.resume && (
        <button
          type="button"
          class="first next"
          disabled={!mayDrive}
          onClick={() => act({ act: 'resume' })}
        >
          {isLost ? 'Connect again' : 'Go on'}
        </button>
      )}
    </>
  )
}

function Finished({ view, act }: { view: BenchView; act: (body: SequenceAct) => void }) {
  return (
    <div class="row">
      <a
        class="button first next"
        href={`/motors/${view.sequenceMotorId}${view.sequenceFitId === null ? '' : '/parameters'}`}
      >
        {view.sequenceFitId === null ? 'See the runs' : 'See the parameters'}
      </a>
      <button type="button" onClick={() => act({ act: 'leave' })}>
        Another motor
      </button>
    </div>
  )
}

function Moves(props: { sequence: SequenceScreen; act: (body: SequenceAct) => void }) {
  const { sequence, act } = props
  const { may } = sequence
  return (
    <div class="row">
      <button type="button" disabled={!may.back} onClick={() => act({ act: 'back' })}>
        Back a step
      </button>
      <button type="button" disabled={!may.repeat} onClick={() => act({ act: 'repeat' })}>
        Repeat
      </button>
      <button type="button" disabled={!may.skip} onClick={() => act({ act: 'skip' })}>
        Skip
      </button>
      <button type="button" class="bare" onClick={() => act({ act: 'leave' })}>
        Leave for later
      </button>
    </div>
  )
}

/** The last that was said: what each step found. */
function Diary() {
  const lines = useCell(diary)
  if (lines.length === 0) return null
  return (
    <section class="plate small" aria-label="Said so far">
      <ol class="stack" style={{ gap: '6px' }}>
        {lines.map(line => (
          <li key={line.id}>{sentence(line.text)}</li>
        ))}
      </ol>
    </section>
  )
}

const STATION: Readonly<Record<string, string>> = {
  done: 'check',
  failed: 'warn',
  skipped: 'minus',
}

function Chain({ sequence }: { sequence: SequenceScreen }) {
  return (
    <ol class="chain" aria-label={`Guided sequence of ${sequence.motor}`}>
      {sequence.steps.map((step, index) => (
        <li
          key={step.id}
          data-status={step.status}
          aria-current={step.status === 'current' ? 'step' : undefined}
          title={step.note ? `${step.title}: ${step.note}` : step.title}
        >
          <span class="station">
            {STATION[step.status] ? <Glyph name={STATION[step.status]!} /> : index + 1}
          </span>
          <span class="unseen">
            {step.title}, {step.status}
          </span>
        </li>
      ))}
    </ol>
  )
}
