import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import {
  AcceptInvitation,
  Invitation,
  InvitationLook,
  InvitationMade,
  InvitationSeen,
  Me,
  NewInvitation,
} from '#protocol/people'
import { hashOf, newSecret } from '../access/cookies.ts'
import { anyone, forDog } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import { tell } from '../log/tell.ts'
import { Invitations } from '../people/invitations.ts'
import { newId } from './ids.ts'
import { saidText } from './said-text.ts'
import { DogParams, NothingSchema, PROBLEMS } from './schemas.ts'

/** How long links work: an invitation is looked at when there is time, a reset is asked for by who waits. */
export const LINK_MS = { invitation: 7 * 86_400_000, reset: 86_400_000 }

const url = '/api/dogs/:dogId/invitations'
const InvitationParams = Type.Object({ ...DogParams.properties, invitationId: Id })

/** Links that let somebody in, and those that set a forgotten password anew. */
const invitations: FastifyPluginAsyncTypebox<{ config: Config }> = async (app, { config: { limits } }) => {
  const records = app.store.people.invitations
  const accepting = new Invitations(app.store.people, app.signIns)
  const rateLimit = { max: limits.redeemsPerMinute, timeWindow: '1 minute' }

  app.post(
    url,
    {
      config: { access: forDog('owner') },
      schema: {
        description:
          'A link that gives one person the role, once, within a week. The secret is told this once.',
        params: DogParams,
        body: NewInvitation,
        response: { 201: InvitationMade, ...PROBLEMS },
      },
    },
    async ({ params: { dogId }, body: { role, note = null }, visitor, log }, reply) => {
      const secret = newSecret()
      const expiresAt = new Date(Date.now() + LINK_MS.invitation).toISOString()
      const invitation = {
        id: newId(),
        dogId,
        role,
        note: saidText(note),
        secretHash: hashOf(secret),
        expiresAt,
      }
      const made = await records.add(invitation, authorOf(visitor))
      tell(log, 'invitation.made', { by: visitor.person!.id, dogId, role })
      return reply.code(201).send({ ...made, secret })
    },
  )

  app.get(
    url,
    {
      config: { access: forDog('owner') },
      schema: {
        description: 'Those that still work, newest first.',
        params: DogParams,
        response: { 200: Type.Array(Invitation), ...PROBLEMS },
      },
    },
    ({ params: { dogId } }) => records.ofDog(dogId, new Date()),
  )

  app.delete(
    `${url}/:invitationId`,
    {
      config: { access: forDog('owner') },
      schema: { params: InvitationParams, response: { 204: NothingSchema, ...PROBLEMS } },
    },
    async ({ params: { dogId, invitationId: id }, visitor, log }, reply) => {
      if (!(await records.withdraw(dogId, id, authorOf(visitor)))) {
        throw new ServerError('INVITATION_NOT_FOUND', { id })
      }
      tell(log, 'invitation.withdrawn', { by: visitor.person!.id, dogId })
      return reply.code(204).send(null)
    },
  )

  app.post(
    '/api/invitations/look',
    {
      config: { access: anyone('the secret is the permission'), rateLimit },
      schema: {
        description: 'What a link is for, without using it. One answer for every secret that does not work.',
        body: InvitationLook,
        response: { 200: InvitationSeen, ...PROBLEMS },
      },
    },
    ({ body: { secret } }) => accepting.look(secret),
  )

  app.post(
    '/api/invitations/accept',
    {
      config: { access: anyone('the secret is the permission'), rateLimit },
      schema: {
        description:
          'Uses the link: for who is signed in, for a new account with name and password, or to set a forgotten ' +
          'password anew. A new account is signed in; so is a reset one without a second factor.',
        body: AcceptInvitation,
        response: { 200: Me, ...PROBLEMS },
      },
    },
    async (request, reply) => {
      const { body, visitor } = request
      const personId = await accepting.accept(body, visitor, request)
      await app.openSockets.recheck()
      if (personId === null) return app.signIns.me(visitor)
      return app.signIns.me(visitor, await app.signIns.admit(request, reply, personId))
    },
  )
}
export default invitations
