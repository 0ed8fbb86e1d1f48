import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import { NewRepetitionNote, RepetitionNote } from '#protocol/session-review'
import { ServerError } from '../errors.ts'
import { shownS, storedS } from '../store/time-axis.ts'
import { THIS_COMPUTER } from '../author.ts'
import { IfMatch, precondition, Preconditions, recordOf, requireRemoved, withEtag } from './preconditions.ts'
import { NothingSchema, PROBLEMS, SessionParams } from './schemas.ts'

const url = '/api/sessions/:sessionId/repetition-notes'
const NoteParams = Type.Object({ ...SessionParams.properties, noteId: Id })

/** How the dog stood in a repetition and what signs of fatigue somebody saw; nothing is measured again for it. */
const repetitionNotes: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  /** Of the axis people see the session on: nominal seconds while recording. */
  const scaleOf = async (sessionId: string) => {
    const session = await records.session(sessionId)
    if (!session) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
    return session.state === 'recording' ? 1 : records.timeScale(sessionId)
  }
  const shown = (note: RepetitionNote, scale: number) => ({ ...note, atS: shownS(note.atS, scale) })

  app.get(
    url,
    {
      schema: {
        description: 'In the order of their time.',
        params: SessionParams,
        response: { 200: Type.Array(RepetitionNote), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId } }) => {
      const scale = await scaleOf(sessionId)
      return (await records.repetitionNotes.notes(sessionId)).map((note) => shown(note, scale))
    },
  )

  app.put(
    `${url}/:noteId`,
    {
      schema: {
        description:
          'If-None-Match: * adds a note under an id of your own, If-Match replaces the one you read.',
        params: NoteParams,
        headers: Preconditions,
        body: NewRepetitionNote,
        response: { 200: withEtag(RepetitionNote), 201: withEtag(RepetitionNote), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId, noteId }, headers, body }, reply) => {
      const holds = precondition(headers)
      const scale = await scaleOf(sessionId)
      const note = { ...body, atS: storedS(body.atS, scale) }
      const changed = await records.repetitionNotes.set(sessionId, noteId, note, holds, THIS_COMPUTER)
      const missing = () => new ServerError('SESSION_NOT_FOUND', { sessionId })
      const stored = recordOf(changed, reply, { missing, versionOf: ({ version }) => version })
      return reply.code(stored.version === 1 ? 201 : 200).send(shown(stored, scale))
    },
  )

  app.delete(
    `${url}/:noteId`,
    {
      schema: {
        params: NoteParams,
        headers: IfMatch,
        response: { 204: NothingSchema, ...PROBLEMS },
      },
    },
    async ({ params: { sessionId, noteId }, headers }, reply) => {
      const holds = precondition(headers)
      await scaleOf(sessionId)
      const removed = await records.repetitionNotes.remove(sessionId, noteId, holds, THIS_COMPUTER)
      requireRemoved(removed, reply, () => new ServerError('NOTE_NOT_FOUND', { sessionId, noteId }))
      return reply.code(204).send(null)
    },
  )
}
export default repetitionNotes
