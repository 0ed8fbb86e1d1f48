import { SignIns } from '../people/sign-ins.ts'
import { shared } from './shared.ts'

declare module 'fastify' {
  interface FastifyInstance {
    signIns: SignIns
  }
}

/** Signing in. Needs the store and the access plugin. */
export default shared('people', async (app) => {
  const { cookies, visitors } = app
  app.decorate('signIns', new SignIns({ people: app.store.people, cookies, visitors }))
})
