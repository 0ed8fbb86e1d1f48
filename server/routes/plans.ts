import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox'
import { Type } from 'typebox'
import { Id } from '#protocol/messages'
import { NewPlan } from '#protocol/resources'
import type { Plan } from '#protocol/resources'
import { ServerError } from '../errors.ts'
import { matchesEtag } from './etag.ts'
import { checkPlan } from './check-plan.ts'
import { DogParams, PROBLEMS } from './schemas.ts'

const PlanSchema = Type.Object({
  dogId: Id,
  version: Type.Integer(),
  ...NewPlan.properties,
  createdAt: Type.String(),
})
const Preconditions = Type.Object({
  'if-match': Type.Optional(Type.String({ maxLength: 200, description: 'The ETag of the plan you read' })),
  'if-none-match': Type.Optional(Type.String({ maxLength: 200, description: '* to set the first plan' })),
})
const ETAG = { etag: { schema: Type.String(), description: 'The version in quotes' } }

/** A dog's plan. The therapist's word: it is only ever replaced by a newer version. */
const plans: FastifyPluginAsyncTypebox = async (app) => {
  const { records } = app.store

  const requireDog = async (dogId: string) => {
    if (!(await records.dog(dogId))) throw new ServerError('DOG_NOT_FOUND', { dogId })
  }

  app.get(
    '/api/dogs/:dogId/plan',
    {
      schema: {
        description: 'The newest version; its ETag goes into If-Match of the next PUT.',
        params: DogParams,
        response: { 200: { ...PlanSchema, headers: ETAG }, ...PROBLEMS },
      },
    },
    async ({ params: { dogId } }, reply) => {
      const plan = await records.plans.plan(dogId)
      if (plan) return reply.header('etag', etagOf(plan)).send(plan)
      await requireDog(dogId)
      throw new ServerError('PLAN_NOT_FOUND', { dogId })
    },
  )

  app.get(
    '/api/dogs/:dogId/plans',
    {
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
      schema: {
        description:
          'Makes a new version. If-Match with the ETag of the newest, or If-None-Match: * for the first ' +
          '(RFC 9110); 412 names the newest version when it is another one, 428 asks for the header (RFC 6585).',
        params: DogParams,
        headers: Preconditions,
        body: NewPlan,
        response: {
          200: { ...PlanSchema, headers: ETAG },
          201: { ...PlanSchema, headers: ETAG },
          ...PROBLEMS,
        },
      },
    },
    async ({ params: { dogId }, headers, body }, reply) => {
      const ifMatch = headers['if-match']
      const ifNoneMatch = headers['if-none-match']
      if (ifMatch === undefined && ifNoneMatch === undefined) throw new ServerError('PRECONDITION_REQUIRED')
      checkPlan(body)
      await requireDog(dogId)
      const newest = (await records.plans.plan(dogId))?.version ?? 0
      const tag = newest === 0 ? null : `"${newest}"`
      const holds =
        (ifMatch === undefined || matchesEtag(ifMatch, tag)) &&
        (ifNoneMatch === undefined || !matchesEtag(ifNoneMatch, tag))
      const plan = holds && (await records.plans.add(dogId, newest, body))
      if (plan)
        return reply
          .code(plan.version === 1 ? 201 : 200)
          .header('etag', etagOf(plan))
          .send(plan)
      const version = (await records.plans.plan(dogId))?.version ?? 0
      if (version > 0) void reply.header('etag', `"${version}"`)
      throw new ServerError('PLAN_CHANGED', { version }, { extras: { version } })
    },
  )
}
export default plans

function etagOf({ version }: Plan): string {
  return `"${version}"`
}
