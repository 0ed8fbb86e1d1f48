import { createHash } from 'node:crypto'
import type { FastifyRequest } from 'fastify'
import { Type } from 'typebox'
import { Compile } from 'typebox/compile'
import { Mount, SetUp } from '#protocol/resources'
import type { AccUnit } from '#signal/trace/units'
import { ServerError } from '../errors.ts'
import { validationWords } from '../validation-words.ts'
import { checkMount } from './mount.ts'
import { StartedAt, startUs } from './start-time.ts'

const Centimetres = Type.String({ pattern: '^[0-9]+([.][0-9]+)?$', maxLength: 8 })

/** The fields beside the file, all as text. */
export const UploadFields = Type.Object(
  {
    unit: Type.Optional(Type.Union([Type.Literal('g'), Type.Literal('mg'), Type.Literal('m/s2')])),
    rateHz: Type.Optional(Type.String({ pattern: '^[0-9]+([.][0-9]+)?$', maxLength: 12 })),
    columns: Type.Optional(
      Type.String({ maxLength: 1000, description: 'Which column is what: t=…,ax=…,ay=…,az=…' }),
    ),
    exercise: Type.Optional(Type.String({ maxLength: 120 })),
    surface: Type.Optional(Type.String({ maxLength: 120 })),
    foreToHindCm: Type.Optional(Centimetres),
    leftToRightCm: Type.Optional(Centimetres),
    heightCm: Type.Optional(Centimetres),
    firmness: SetUp.properties.firmness,
    unstable: Type.Optional(Type.Union([Type.Literal('true'), Type.Literal('false')])),
    startedAt: Type.Optional(StartedAt),
    sensor: Type.Optional(
      Type.Literal('phone', { description: 'Recorded by a phone: compared with such recordings only' }),
    ),
    mount: Type.Optional(Mount),
  },
  { additionalProperties: false },
)
const fieldsCheck = Compile(UploadFields)
const setUpCheck = Compile(SetUp)

export interface UploadForm {
  readonly bytes: Buffer
  readonly file: string
  /** SHA-256 of the bytes, hex. */
  readonly contentHash: string
  readonly unit?: AccUnit
  readonly rateHz?: number
  readonly columns?: string
  readonly startedAtUs?: number
  readonly mount: string
  readonly sensor: 'upload' | 'phone'
  readonly setUp: SetUp | null
}

/**
 * One file and its fields from a multipart request.
 * @throws {ServerError} for anything missing, too large or not understood
 */
export async function uploadForm(request: FastifyRequest, limitBytes: number): Promise<UploadForm> {
  if (!request.isMultipart()) {
    throw new ServerError('MEDIA_TYPE', { reason: 'Send the trace as multipart/form-data.' })
  }
  const fields: Record<string, string> = {}
  let upload: { bytes: Buffer; file: string } | null = null
  for await (const part of request.parts()) {
    if (part.type === 'field') {
      // An empty field of a form says nothing.
      if (typeof part.value === 'string' && part.value !== '') fields[part.fieldname] = part.value
    } else {
      const bytes = await part.toBuffer().catch((cause: Error & { code?: string }) => {
        if (cause.code !== 'FST_REQ_FILE_TOO_LARGE') throw cause
        throw new ServerError('UPLOAD_TOO_LARGE', { limitMb: Math.round(limitBytes / 2 ** 20) }, { cause })
      })
      upload = { bytes, file: shownName(part.filename) }
    }
  }
  if (!upload) throw invalid('The form holds no file.')
  return { ...upload, ...understood(fields), contentHash: sha256(upload.bytes) }
}

function understood(fields: Record<string, string>) {
  if (!fieldsCheck.Check(fields)) {
    throw invalid(`${validationWords(fieldsCheck.Errors(fields), 'form')}.`)
  }
  const { unit, rateHz, columns, startedAt, mount = 'auto' } = fields
  checkMount(mount)
  return {
    ...(unit !== undefined && { unit }),
    ...(rateHz !== undefined && { rateHz: Number(rateHz) }),
    ...(columns !== undefined && { columns }),
    ...(startedAt !== undefined && { startedAtUs: startUs(startedAt) }),
    mount,
    sensor: fields.sensor === 'phone' ? ('phone' as const) : ('upload' as const),
    setUp: setUpOf(fields),
  }
}

function setUpOf(fields: Record<string, string>): SetUp | null {
  const { exercise, surface, foreToHindCm, leftToRightCm, heightCm, firmness, unstable } = fields
  if ((exercise === undefined) !== (surface === undefined)) {
    throw invalid('exercise and surface belong together: send both or neither.')
  }
  const setUp = {
    exercise,
    surface,
    ...(foreToHindCm !== undefined && { foreToHindCm: Number(foreToHindCm) }),
    ...(leftToRightCm !== undefined && { leftToRightCm: Number(leftToRightCm) }),
    ...(heightCm !== undefined && { heightCm: Number(heightCm) }),
    ...(firmness !== undefined && { firmness }),
    ...(unstable !== undefined && { unstable: unstable === 'true' }),
  }
  if (exercise === undefined) {
    if (Object.values(setUp).every((value) => value === undefined)) return null
    throw invalid('Spacing and surface belong to a set-up: send exercise and surface with it.')
  }
  if (setUpCheck.Check(setUp)) return setUp
  throw invalid(`${validationWords(setUpCheck.Errors(setUp), 'form')}.`)
}

/** The file's own name for display; where it lay is nobody's business, and control characters go. */
function shownName(name: string): string {
  const last = name.split(/[/\\]/).at(-1) ?? ''
  return last.replace(/\p{Cc}/gu, '').slice(0, 200) || 'trace'
}

function sha256(bytes: Buffer): string {
  return createHash('sha256').update(bytes).digest('hex')
}

function invalid(reason: string): ServerError {
  return new ServerError('REQUEST_INVALID', { reason })
}
