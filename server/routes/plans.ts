import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import { NewPlan } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { forDog } from '../access/rules.ts'
import { authorOf } from '../access/visitor.ts'
import { checkPlan } from './check-plan.ts'
import { etagOf, otherVersion, precondition, Preconditions, withEtag } from './preconditions.ts'
import { withSaidText } from './said-text.ts'
import { DogParams, PROBLEMS } from './schemas.ts'

const PlanSchema = Type.Object({
  dogId: Id,
  version: Type.Integer(),
  ...NewPlan.properties,
  createdAt: Type.String(),
})
const VersionedPlan = withEtag(PlanSchema)

/** A dog's plan. The therapist's word: it is only ever replaced by a newer version. */
const plans: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  const requireDog = async (dogId: string) => {
    if (!(await records.dog(dogId))) throw new ServerError('DOG_NOT_FOUND', { dogId })
  }

  app.get(
    '/api/dogs/:dogId/plan',
    {
      config: { access: forDog('viewer') },
      schema: {
        description: 'The newest version; its ETag goes into If-Match of the next PUT.',
        params: DogParams,
        response: { 200: VersionedPlan, ...PROBLEMS },
      },
    },
    async ({ params: { dogId } }, reply) => {
      const plan = await records.plans.plan(dogId)
      if (plan) return reply.header('etag', etagOf(plan.version)).send(plan)
      await requireDog(dogId)
      throw new ServerError('PLAN_NOT_FOUND', { dogId })
    },
  )

  app.get(
    '/api/dogs/:dogId/plans',
    {
      config: { access: forDog('viewer') },
      schema: {
        description: 'All versions, newest first; none is ever changed or removed while the dog is there.',
        params: DogParams,
        response: { 200: Type.Array(PlanSchema), ...PROBLEMS },
      },
    },
    async ({ params: { dogId } }) => {
      await requireDog(dogId)
      return records.plans.plans(dogId)
    },
  )

  app.put(
    '/api/dogs/:dogId/plan',
    {
      config: { access: forDog('therapist') },
      schema: {
        description:
          'Makes a new version. If-Match with the ETag of the newest, or If-None-Match: * for the first ' +
          '(RFC 9110); 412 names the newest version when it is another one, 428 asks for the header (RFC 6585).',
        params: DogParams,
        headers: Preconditions,
        body: NewPlan,
        response: {
          200: VersionedPlan,
          201: VersionedPlan,
          ...PROBLEMS,
        },
      },
    },
    async ({ params: { dogId }, headers, body, visitor }, reply) => {
      const holds = precondition(headers)
      checkPlan(body)
      await requireDog(dogId)
      const newest = (await records.plans.plan(dogId))?.version ?? null
      const plan =
        holds(newest) && (await records.plans.add(dogId, newest ?? 0, said(body), authorOf(visitor)))
      if (!plan) {
        const { version = null } = (await records.plans.plan(dogId)) ?? {}
        throw otherVersion('PLAN_CHANGED', version, reply)
      }
      const isFirst = plan.version === 1
      return reply
        .code(isFirst ? 201 : 200)
        .header('etag', etagOf(plan.version))
        .send(plan)
    },
  )
}
export default plans

const said = (plan: NewPlan): NewPlan => ({
  ...withSaidText(plan, 'notes'),
  exercises: plan.exercises.map((exercise) => withSaidText(exercise, 'notes')),
})
