import { z } from 'zod'
import { driveDocument } from './drive-document.ts'
import { fitDocument } from './fit-document.ts'
import { heatDocument } from './heat-document.ts'
import { motorModel } from './motor-model.ts'
import { recogniseDocument } from './recognise-document.ts'
import { withstandDocument } from './withstand-document.ts'

/** Documents that other programs read or write, by the name under which their JSON schema is published. */
const DOCUMENTS = {
  'fit-1': { title: 'Result of an identification, fit/1', document: fitDocument, io: 'output' },
  'motor-model-1': {
    title: 'Motor to simulate with, motor-model/1',
    document: motorModel,
    io: 'output',
  },
  'withstand-1': {
    title: 'What a drive must withstand, withstand/1',
    document: withstandDocument,
    io: 'output',
  },
  'heat-1': { title: 'What a heating run tells, heat/1', document: heatDocument, io: 'output' },
  'recognise-1': {
    title: 'What kind of motor it is, recognise/1',
    document: recogniseDocument,
    io: 'output',
  },
  drive: { title: 'Drive that a motor is to be run by', document: driveDocument, io: 'input' },
} as const

export type PublishedName = keyof typeof DOCUMENTS

export const PUBLISHED_NAMES = Object.keys(DOCUMENTS) as [PublishedName, ...PublishedName[]]

/** JSON schema, draft 2020-12. */
export function publishedSchema(name: PublishedName): Record<string, unknown> {
  const { title, document, io } = DOCUMENTS[name]
  const schema = z.toJSONSchema(document, { target: 'draft-2020-12', io }) as Record<
    string,
    unknown
  >
  return { ...schema, title }
}
