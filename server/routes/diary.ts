import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { DiaryEntry, NewDiaryEntry } from '#protocol/diary'
import { Id } from '#protocol/messages'
import { ServerError } from '../errors.ts'
import { forDog } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import { checkDays } from './check-days.ts'
import { newId } from './ids.ts'
import { etagOf, IfMatch, precondition, recordOf, requireRemoved, withEtag } from './preconditions.ts'
import { withSaidText } from './said-text.ts'
import { DogParams, NothingSchema, PROBLEMS } from './schemas.ts'

const url = '/api/dogs/:dogId/diary'
const EntryParams = Type.Object({ ...DogParams.properties, entryId: Id })

/** Medication, events and notes of a dog. */
const diary: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  const dogMissing = (dogId: string) => new ServerError('DOG_NOT_FOUND', { dogId })
  const requireDog = async (dogId: string) => {
    if (!(await records.dog(dogId))) throw dogMissing(dogId)
  }

  app.get(
    url,
    {
      config: { access: forDog('viewer') },
      schema: {
        description: 'By their first day, newest first.',
        params: DogParams,
        response: { 200: Type.Array(DiaryEntry), ...PROBLEMS },
      },
    },
    async ({ params: { dogId } }) => {
      await requireDog(dogId)
      return records.diary.entries(dogId)
    },
  )

  app.post(
    url,
    {
      config: { access: forDog('therapist') },
      schema: {
        description:
          'An entry with its days; `untilDate` null for a single day, or for medication that goes on.',
        params: DogParams,
        body: NewDiaryEntry,
        response: { 201: withEtag(DiaryEntry), ...PROBLEMS },
      },
    },
    async ({ params: { dogId }, body, visitor }, reply) => {
      checkDays(body)
      const entry = await records.diary.add(dogId, { ...said(body), id: newId() }, authorOf(visitor))
      if (!entry) throw dogMissing(dogId)
      return reply.code(201).header('etag', etagOf(entry.version)).send(entry)
    },
  )

  app.put(
    `${url}/:entryId`,
    {
      config: { access: forDog('therapist') },
      schema: {
        description: 'Replaces the entry you read.',
        params: EntryParams,
        headers: IfMatch,
        body: NewDiaryEntry,
        response: { 200: withEtag(DiaryEntry), ...PROBLEMS },
      },
    },
    async ({ params: { dogId, entryId }, headers, body, visitor }, reply) => {
      const holds = precondition(headers)
      checkDays(body)
      await requireDog(dogId)
      const changed = await records.diary.change(dogId, entryId, said(body), holds, authorOf(visitor))
      const missing = () => new ServerError('DIARY_ENTRY_NOT_FOUND', { dogId, entryId })
      return recordOf(changed, reply, { missing, versionOf: ({ version }) => version })
    },
  )

  app.delete(
    `${url}/:entryId`,
    {
      config: { access: forDog('therapist') },
      schema: {
        params: EntryParams,
        headers: IfMatch,
        response: { 204: NothingSchema, ...PROBLEMS },
      },
    },
    async ({ params: { dogId, entryId }, headers, visitor }, reply) => {
      const holds = precondition(headers)
      await requireDog(dogId)
      const removed = await records.diary.remove(dogId, entryId, holds, authorOf(visitor))
      requireRemoved(removed, reply, () => new ServerError('DIARY_ENTRY_NOT_FOUND', { dogId, entryId }))
      return reply.code(204).send(null)
    },
  )
}
export default diary

const said = (entry: NewDiaryEntry) => withSaidText(entry, 'dose', 'note')
