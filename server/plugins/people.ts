import type { Config } from '../config.ts'
import { SignIns } from '../people/sign-ins.ts'
import { shared } from './shared.ts'

declare module 'fastify' {
  interface FastifyInstance {
    signIns: SignIns
  }
}

/** Signing in. Needs the store and the access plugin. */
export default shared<{ config: Config }>('people', async (app, { config }) => {
  const { cookies, visitors } = app
  const onlyThisComputer = config.exposure === 'this computer'
  app.decorate('signIns', new SignIns({ people: app.store.people, cookies, visitors, onlyThisComputer }))
})
