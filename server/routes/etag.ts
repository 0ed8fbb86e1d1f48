import { ServerError } from '../errors.ts'

const ENTITY_TAG = /^\s*(W\/)?("[\x21\x23-\x7e\x80-\xff]*")\s*$/

/**
 * Whether an If-Match or If-None-Match field names the current entity tag; null means that there is
 * nothing yet, which `*` does not match. Strong comparison: a weak tag matches nothing (RFC 9110 §8.8.3.2).
 * @throws {ServerError} for a field that is no list of entity tags
 */
export function matchesEtag(field: string, current: string | null): boolean {
  if (field.trim() === '*') return current !== null
  const tags = field.split(',').map((tag) => ENTITY_TAG.exec(tag))
  if (tags.some((tag) => tag === null)) {
    throw new ServerError('REQUEST_INVALID', {
      reason: `${field} is no entity tag: send the ETag with its quotes, e.g. "3".`,
    })
  }
  return tags.some((tag) => tag![1] === undefined && tag![2] === current)
}
