import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { PasswordAgain, SecondFactorCode, SecondFactorOffer, SecondFactorSet } from '#protocol/people'
import { SIGNED_IN } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import { ServerError } from '../errors.ts'
import { tell } from '../log/tell.ts'
import { newRecoveryCodes, offeredFactor, recoveryHash, stepOf } from '../people/second-factor.ts'
import { NothingSchema, PROBLEMS } from './schemas.ts'

const url = '/api/me/second-factor'

/** A second factor for the account of whoever asks: codes of an authenticator (RFC 6238). */
const secondFactor: FastifyPluginAsyncTypebox = async (app) => {
  const { people } = app.store

  app.post(
    url,
    {
      config: { access: SIGNED_IN },
      schema: {
        description: 'A secret for an authenticator; nothing asks for its codes until one is sent with PUT.',
        response: { 200: SecondFactorOffer, ...PROBLEMS },
      },
    },
    async ({ visitor }) => {
      const { id, signInName, passwordHash } = (await people.person(visitor.person!.id))!
      if (passwordHash === null) throw new ServerError('PASSWORD_FIRST')
      const offer = offeredFactor(signInName)
      if (!(await people.offerSecondFactor(id, offer.secret))) throw new ServerError('SECOND_FACTOR_SET')
      return offer
    },
  )

  app.put(
    url,
    {
      config: { access: SIGNED_IN },
      schema: {
        description: 'Confirms it; the answer holds recovery codes, this once. Each of them works once.',
        body: SecondFactorCode,
        response: { 200: SecondFactorSet, ...PROBLEMS },
      },
    },
    async ({ body, visitor, log }) => {
      const { id, secondFactor: factor } = (await people.person(visitor.person!.id))!
      if (!factor) throw new ServerError('SECOND_FACTOR_NOT_OFFERED')
      if (factor.confirmed) throw new ServerError('SECOND_FACTOR_SET')
      const step = stepOf(factor.secret, body.code, Date.now())
      if (step === null) throw new ServerError('SIGN_IN_FAILED')
      const recoveryCodes = newRecoveryCodes()
      const by = authorOf(visitor)
      if (!(await people.confirmSecondFactor(id, step, recoveryCodes.map(recoveryHash), by))) {
        throw new ServerError('SECOND_FACTOR_SET')
      }
      tell(log, 'second-factor.on', { by: id })
      return { ...(await app.signIns.me(visitor)), recoveryCodes }
    },
  )

  app.delete(
    url,
    {
      config: { access: SIGNED_IN },
      schema: {
        description: 'Takes the second factor away, for whoever knows the password.',
        body: PasswordAgain,
        response: { 204: NothingSchema, ...PROBLEMS },
      },
    },
    async (request, reply) => {
      const { body, visitor } = request
      const person = (await people.person(visitor.person!.id))!
      if (person.passwordHash === null) throw new ServerError('PASSWORD_FIRST')
      await app.signIns.proveAgain(person, body.password, request)
      if (!(await people.removeSecondFactor(person.id, authorOf(visitor)))) {
        throw new ServerError('SECOND_FACTOR_NOT_OFFERED')
      }
      tell(request.log, 'second-factor.off', { by: person.id })
      return reply.code(204).send(null)
    },
  )
}
export default secondFactor
