import type { DriveDocument } from '../../src/contract/drive-document.ts'
import type {
  DrivePage,
  HeatPage,
  HeatQuery,
  RecognisePage,
  RecogniseQuery,
} from '../../src/contract/http-heat.ts'
import type {
  FitSummary,
  IdentificationPage,
  MotorChanges,
  MotorList,
  MotorPage,
  MotorView,
} from '../../src/contract/http-motors.ts'
import type {
  RunChangesBody,
  RunPage,
  SeriesQuery,
  SeriesView,
} from '../../src/contract/http-runs.ts'
import type {
  HandEntryBody,
  LimitsPage,
  NewBatchBody,
  NewLimitsBody,
  RuleQuery,
  SamplesQuery,
  SamplesView,
  Scanned,
  StudyPage,
  TrialBody,
} from '../../src/contract/http-samples.ts'
import type { ModelFormat } from '../../src/contract/model-formats.ts'
import type { WithstandDocument } from '../../src/contract/withstand-document.ts'
import type { SheetPage } from '../../src/contract/sheet-facts.ts'
import type { PaperName } from '../../src/output/sheet/paper.ts'
import type { SheetFormat } from '../files/sheet-file.ts'
import type { RefitOrder } from './refit-order.ts'

/**
 * Everything that HTTP asks of the store, each with what goes in and what comes out. The store lives
 * in a worker: the thread that keeps a rig alive never waits for the disk.
 */
export interface StoreQuestions {
  motorList: { input: { find: string }; answer: MotorList }
  motorPage: { input: { motor: number }; answer: MotorPage }
  motorName: { input: { motor: number }; answer: string }
  addMotor: { input: MotorChanges & { name: string }; answer: MotorView }
  changeMotor: { input: { motor: number; changes: MotorChanges }; answer: MotorView }
  deleteMotor: { input: { motor: number }; answer: null }
  restoreMotor: { input: { motor: number }; answer: MotorView }
  runPage: { input: { run: number } & SeriesQuery; answer: RunPage }
  series: { input: { run: number } & SeriesQuery; answer: SeriesView }
  changeRun: { input: { run: number; changes: RunChangesBody }; answer: RunPage['run'] }
  recordingText: {
    input: { run: number; from: number; to: number }
    answer: { text: string; fileName: string; isLast: boolean }
  }
  deleteRun: { input: { run: number }; answer: null }
  restoreRun: { input: { run: number }; answer: null }
  identificationPage: {
    input: { motor: number; fit?: number | undefined; other?: number | undefined }
    answer: Omit<IdentificationPage, 'job'>
  }
  sheetPage: {
    input: { motor: number; fit?: number | undefined; madeAt: string }
    answer: SheetPage
  }
  sheetFile: {
    input: {
      motor: number
      fit?: number | undefined
      madeAt: string
      format: SheetFormat
      paper: PaperName
    }
    answer: { bytes: Uint8Array; fileName: string }
  }
  drivePage: { input: { motor: number; fit?: number | undefined }; answer: DrivePage }
  heatPage: { input: { motor: number } & HeatQuery; answer: HeatPage }
  recognisePage: { input: { motor: number } & RecogniseQuery; answer: RecognisePage }
  withstand: {
    input: { motor: number; fit?: number | undefined; drive: DriveDocument }
    answer: WithstandDocument
  }
  modelFile: {
    input: { motor: number; fit?: number | undefined; format: ModelFormat }
    answer: { text: string; fileName: string }
  }
  samplesView: { input: SamplesQuery & { at: string }; answer: Omit<SamplesView, 'refits'> }
  addBatch: { input: NewBatchBody; answer: { id: number; name: string } }
  refitOrder: { input: { batch: number; against: number }; answer: RefitOrder }
  batchReport: {
    input: { batch: number; at: string; format: SheetFormat } & RuleQuery
    answer: { bytes: Uint8Array; fileName: string }
  }
  setLimits: { input: { type: number; body: NewLimitsBody }; answer: LimitsPage }
  enterByHand: { input: HandEntryBody; answer: null }
  studyPage: { input: { type: number; study: string }; answer: StudyPage }
  addTrial: { input: { type: number; body: TrialBody }; answer: StudyPage }
  scanSample: { input: { batch: number; serialNumber: string; type: number }; answer: Scanned }
  fitSummaries: { input: { motor: number }; answer: FitSummary[] }
}

export type QuestionName = keyof StoreQuestions

export type AskStore = <N extends QuestionName>(
  name: N,
  input: StoreQuestions[N]['input'],
) => Promise<StoreQuestions[N]['answer']>
