import type { FastifyReply } from 'fastify'
import { Type } from 'typebox'
import type { TSchema } from 'typebox'
import { ServerError } from '../errors.ts'
import type { ErrorCode } from '../errors.ts'
import type { Changed, Precondition } from '../store/changes.ts'
import { matchesEtag } from './etag.ts'

/**
 * Optimistic concurrency as RFC 9110 §13 has it: a change names the ETag of what its author read, and is refused
 * with 412 when there is another version by now. Every ETag here is a version in quotes.
 */

const Field = (description: string) => Type.Optional(Type.String({ maxLength: 200, description }))

/** Of what is there from the beginning. */
export const IfMatch = Type.Object({ 'if-match': Field('The ETag of what you read') })
/** Of what may not be there yet. */
export const Preconditions = Type.Object({
  ...IfMatch.properties,
  'if-none-match': Field('* to set the first one'),
})

export interface PreconditionFields {
  readonly 'if-match'?: string
  readonly 'if-none-match'?: string
}

/**
 * What the header fields ask for; all of it must hold.
 * @throws {ServerError} 428 (RFC 6585) without any, 400 for what is no entity tag
 */
export function precondition(fields: PreconditionFields): Precondition {
  if (fields['if-match'] === undefined && fields['if-none-match'] === undefined) {
    throw new ServerError('PRECONDITION_REQUIRED')
  }
  return preconditionIfAny(fields)
}

/** The same where the fields may be left out: then any version will do. */
export function preconditionIfAny(fields: PreconditionFields): Precondition {
  const { 'if-match': ifMatch, 'if-none-match': ifNoneMatch } = fields
  const holds: Precondition = (version) => {
    const tag = version === null ? null : etagOf(version)
    return (
      (ifMatch === undefined || matchesEtag(ifMatch, tag)) &&
      (ifNoneMatch === undefined || !matchesEtag(ifNoneMatch, tag))
    )
  }
  // A field that cannot be read is refused before anything is looked up.
  holds(null)
  return holds
}

export function etagOf(version: number): string {
  return `"${version}"`
}

/** A response schema whose ETag is told as well. */
export function withEtag<Schema extends TSchema>(schema: Schema) {
  return { ...schema, headers: { etag: { schema: Type.String(), description: 'The version in quotes' } } }
}

/**
 * What a change left, with its ETag set.
 * @throws {ServerError} `missing` when there was nothing to change, 412 naming the newest version (0 without any)
 */
export function recordOf<T>(
  changed: Changed<T>,
  reply: FastifyReply,
  { missing, versionOf }: { missing: () => ServerError; versionOf: (record: T) => number },
): T {
  switch (changed.kind) {
    case 'changed':
      void reply.header('etag', etagOf(versionOf(changed.record)))
      return changed.record
    case 'missing':
      throw missing()
    case 'other version':
      throw otherVersion('RECORD_CHANGED', changed.version, reply)
  }
}

/** Throws as `recordOf` does; what was removed has no ETag any more. */
export function requireRemoved(
  removed: Changed<unknown>,
  reply: FastifyReply,
  missing: () => ServerError,
): void {
  if (removed.kind === 'missing') throw missing()
  if (removed.kind === 'other version') throw otherVersion('RECORD_CHANGED', removed.version, reply)
}

/** The refusal of a change to a version that is not the newest. */
export function otherVersion(code: ErrorCode, version: number | null, reply: FastifyReply): ServerError {
  if (version !== null) void reply.header('etag', etagOf(version))
  const values = { version: version ?? 0 }
  return new ServerError(code, values, { extras: values })
}
