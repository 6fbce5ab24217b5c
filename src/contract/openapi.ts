import { z } from 'zod'
import { ENDPOINTS, type Endpoint, problem } from './http.ts'
import { API_ROOT, type EndpointName, PAGE_HEADER, PATHS, STREAM_HEADER } from './http-paths.ts'

const schemaOf = (schema: z.ZodType, io: 'input' | 'output') =>
  z.toJSONSchema(schema, { target: 'draft-2020-12', io, unrepresentable: 'any' })

/** The OpenAPI 3.1 description of the API, written from the same table that checks the requests. */
export function openApiDocument(version: string): Record<string, unknown> {
  const paths: Record<string, Record<string, unknown>> = {}
  for (const name of Object.keys(PATHS) as EndpointName[]) {
    const { method, path } = PATHS[name]
    paths[path] ??= {}
    paths[path][method.toLowerCase()] = operation(name, ENDPOINTS[name])
  }
  return {
    openapi: '3.1.0',
    info: {
      title: 'rotorfit',
      version,
      description:
        'Bench, runs and identified parameters of brushed DC motors. Values are in SI, temperatures in degrees Celsius. ' +
        `Requests that change anything carry the header ${PAGE_HEADER} and the cookie of the address printed at start; ` +
        `those that drive the bench name their event stream in ${STREAM_HEADER}.`,
    },
    servers: [{ url: API_ROOT }],
    paths,
    components: { schemas: { Problem: schemaOf(problem, 'output') } },
  }
}

function operation(name: EndpointName, endpoint: Endpoint): Record<string, unknown> {
  const parameters = [
    ...parametersOf(endpoint.params, 'path'),
    ...parametersOf(endpoint.query, 'query'),
    ...(endpoint.may === 'change' || endpoint.may === 'drive' ? [header(PAGE_HEADER)] : []),
    ...(endpoint.may === 'drive' ? [header(STREAM_HEADER)] : []),
  ]
  return {
    operationId: name,
    summary: endpoint.summary,
    ...(parameters.length > 0 ? { parameters } : {}),
    ...(endpoint.body
      ? {
          requestBody: {
            required: true,
            content: { 'application/json': { schema: schemaOf(endpoint.body, 'input') } },
          },
        }
      : {}),
    ...(endpoint.upload
      ? { requestBody: { required: true, content: { 'application/octet-stream': {} } } }
      : {}),
    responses: {
      ...success(endpoint.answer),
      default: {
        description: 'What is wrong and what would be right',
        content: { 'application/json': { schema: { $ref: '#/components/schemas/Problem' } } },
      },
    },
  }
}

function success(answer: Endpoint['answer']): Record<string, unknown> {
  if (answer === null) return { 204: { description: 'Done' } }
  if (typeof answer === 'string') {
    const media = answer.split(/, | or /)
    return {
      200: {
        description: 'Done',
        content: Object.fromEntries(media.map(type => [type, { schema: { type: 'string' } }])),
      },
    }
  }
  const schema = schemaOf(answer, 'output')
  return { 200: { description: 'Done', content: { 'application/json': { schema } } } }
}

function parametersOf(schema: z.ZodObject | undefined, place: 'path' | 'query'): unknown[] {
  if (!schema) return []
  const described = schemaOf(schema, 'input') as {
    properties?: Record<string, unknown>
    required?: string[]
  }
  return Object.entries(described.properties ?? {}).map(([name, shape]) => ({
    name,
    in: place,
    required: place === 'path' || (described.required ?? []).includes(name),
    // What arrives in an address is text; the schema says what it is read as.
    schema: Object.keys(shape as object).length === 0 ? { type: 'number' } : shape,
  }))
}

const header = (name: string) => ({
  name,
  in: 'header',
  required: true,
  schema: { type: 'string' },
})
