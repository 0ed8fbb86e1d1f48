import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import { NewRepetitionNote, RepetitionNote } from '#protocol/session-review'
import type { SessionSummary } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { shownS, storedS } from '../store/time-axis.ts'
import { forDogOfSession } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import { requireWithin } from './beyond-end.ts'
import { IfMatch, precondition, Preconditions, recordOf, requireRemoved, withEtag } from './preconditions.ts'
import { withSaidText } from './said-text.ts'
import { NothingSchema, PROBLEMS, SessionParams } from './schemas.ts'

const url = '/api/sessions/:sessionId/repetition-notes'
const NoteParams = Type.Object({ ...SessionParams.properties, noteId: Id })

/** How the dog stood in a repetition and what signs of fatigue somebody saw; nothing is measured again for it. */
const repetitionNotes: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  const found = async (sessionId: string) => {
    const session = await records.session(sessionId)
    if (!session) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
    return session
  }
  /** Of the axis people see the session on: nominal seconds while recording. */
  const scaleOf = async ({ id, state }: SessionSummary) => (state === 'recording' ? 1 : records.timeScale(id))
  const shown = (note: RepetitionNote, scale: number) => ({ ...note, atS: shownS(note.atS, scale) })

  app.get(
    url,
    {
      config: { access: forDogOfSession('viewer') },
      schema: {
        description: 'In the order of their time.',
        params: SessionParams,
        response: { 200: Type.Array(RepetitionNote), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId } }) => {
      const scale = await scaleOf(await found(sessionId))
      return (await records.repetitionNotes.notes(sessionId)).map((note) => shown(note, scale))
    },
  )

  app.put(
    `${url}/:noteId`,
    {
      config: { access: forDogOfSession('therapist') },
      schema: {
        description:
          'If-None-Match: * adds a note under an id of your own, If-Match replaces the one you read. ' +
          'In a finished session a moment beyond its end is refused with 422.',
        params: NoteParams,
        headers: Preconditions,
        body: NewRepetitionNote,
        response: { 200: withEtag(RepetitionNote), 201: withEtag(RepetitionNote), ...PROBLEMS },
      },
    },
    async ({ params: { sessionId, noteId }, headers, body, visitor }, reply) => {
      const holds = precondition(headers)
      const session = await found(sessionId)
      const scale = await scaleOf(session)
      // What was noted while recording may lie beyond the end that came; there it may stay.
      const known = (await records.repetitionNotes.notes(sessionId)).find(({ id }) => id === noteId)
      const stays = known !== undefined && shownS(known.atS, scale) === body.atS
      if (!stays) requireWithin(session, body.atS)
      const atS = stays ? known.atS : storedS(body.atS, scale)
      const note = { ...withSaidText(body, 'note'), atS }
      const changed = await records.repetitionNotes.set(sessionId, noteId, note, holds, authorOf(visitor))
      const missing = () => new ServerError('SESSION_NOT_FOUND', { sessionId })
      const stored = recordOf(changed, reply, { missing, versionOf: ({ version }) => version })
      return reply.code(stored.version === 1 ? 201 : 200).send(shown(stored, scale))
    },
  )

  app.delete(
    `${url}/:noteId`,
    {
      config: { access: forDogOfSession('therapist') },
      schema: {
        params: NoteParams,
        headers: IfMatch,
        response: { 204: NothingSchema, ...PROBLEMS },
      },
    },
    async ({ params: { sessionId, noteId }, headers, visitor }, reply) => {
      const holds = precondition(headers)
      await found(sessionId)
      const removed = await records.repetitionNotes.remove(sessionId, noteId, holds, authorOf(visitor))
      requireRemoved(removed, reply, () => new ServerError('NOTE_NOT_FOUND', { sessionId, noteId }))
      return reply.code(204).send(null)
    },
  )
}
export default repetitionNotes
