import { TypeBoxValidatorCompiler } from '@fastify/type-provider-typebox'
import type { TypeBoxTypeProvider } from '@fastify/type-provider-typebox'
import Fastify from 'fastify'
import type { Config } from './config.ts'
import { httpServer } from './exposure/http-server.ts'
import { logOptions } from './log/options.ts'
import access from './plugins/access.ts'
import certificate from './plugins/certificate.ts'
import connectionBounds from './plugins/connection-bounds.ts'
import connections from './plugins/connections.ts'
import dashboard from './plugins/dashboard.ts'
import fileDownloads from './plugins/file-downloads.ts'
import hostGuard from './plugins/host-guard.ts'
import live from './plugins/live.ts'
import openapi from './plugins/openapi.ts'
import operations from './plugins/operations.ts'
import people from './plugins/people.ts'
import problems, { routerProblem } from './plugins/problems.ts'
import proxyGuard from './plugins/proxy-guard.ts'
import rateLimit from './plugins/rate-limit.ts'
import refusals from './plugins/refusals.ts'
import securityHeaders from './plugins/security-headers.ts'
import slowBodies from './plugins/slow-bodies.ts'
import sockets from './plugins/sockets.ts'
import store from './plugins/store.ts'
import auditRoutes from './routes/audit.ts'
import checkInRoutes from './routes/check-ins.ts'
import demoRoutes from './routes/demo.ts'
import diaryRoutes from './routes/diary.ts'
import dogRoutes from './routes/dogs.ts'
import dogPeopleRoutes from './routes/dog-people.ts'
import doseRoutes from './routes/dose.ts'
import editRoutes from './routes/edits.ts'
import exportRoutes from './routes/export.ts'
import fhirRoutes from './routes/fhir.ts'
import healthRoutes from './routes/health.ts'
import importRoutes from './routes/imports.ts'
import invitationRoutes from './routes/invitations.ts'
import liveRoutes from './routes/live.ts'
import markRoutes from './routes/marks.ts'
import meRoutes from './routes/me.ts'
import pairingRoutes from './routes/pairings.ts'
import peopleRoutes from './routes/people.ts'
import planRoutes from './routes/plans.ts'
import repetitionNoteRoutes from './routes/repetition-notes.ts'
import reportRoutes from './routes/reports.ts'
import secondFactorRoutes from './routes/second-factor.ts'
import sessionRoutes from './routes/sessions.ts'
import shareRoutes from './routes/shares.ts'
import signInRoutes from './routes/sign-in.ts'
import traceDownloadRoutes from './routes/trace-download.ts'
import trendSettingRoutes from './routes/trend-settings.ts'
import trendRoutes from './routes/trends.ts'
import uploadRoutes from './routes/uploads.ts'

export type App = Awaited<ReturnType<typeof buildApp>>

/** The whole server, ready but not listening. Order matters: guards first, then what routes need, then routes. */
export async function buildApp(config: Config) {
  const app = Fastify({
    ...httpServer(config),
    ...logOptions(config.logLevel),
    bodyLimit: 64 * 1024,
    frameworkErrors: routerProblem,
  }).withTypeProvider<TypeBoxTypeProvider>()
  app.setValidatorCompiler(TypeBoxValidatorCompiler)
  // Schemas describe the answers; they must not drop what they forgot to mention.
  app.setSerializerCompiler(() => (data) => JSON.stringify(data))

  await app.register(refusals)
  await app.register(problems)
  await app.register(operations, { config })
  await app.register(connections)
  // Before the guards: a refused upgrade is closed only when the plugin has seen it.
  await app.register(sockets, { config })
  await app.register(certificate, { config })
  await app.register(securityHeaders, { config })
  await app.register(proxyGuard, { config })
  await app.register(hostGuard, { config })
  await app.register(fileDownloads, { config })
  await app.register(rateLimit, { config })
  await app.register(connectionBounds, { config })
  await app.register(slowBodies, { config })
  await app.register(openapi)
  await app.register(store, { config })
  await app.register(access, { config })
  await app.register(people, { config })
  await app.register(live, { config })

  await app.register(healthRoutes, { config })
  await app.register(signInRoutes, { config })
  await app.register(meRoutes)
  await app.register(secondFactorRoutes)
  await app.register(peopleRoutes)
  await app.register(dogPeopleRoutes)
  await app.register(invitationRoutes, { config })
  await app.register(shareRoutes, { config })
  await app.register(dogRoutes)
  await app.register(planRoutes)
  await app.register(doseRoutes)
  await app.register(sessionRoutes)
  await app.register(checkInRoutes)
  await app.register(uploadRoutes, { config })
  await app.register(reportRoutes)
  await app.register(markRoutes)
  await app.register(editRoutes)
  await app.register(repetitionNoteRoutes)
  await app.register(traceDownloadRoutes)
  await app.register(trendRoutes)
  await app.register(trendSettingRoutes)
  await app.register(diaryRoutes)
  await app.register(auditRoutes)
  await app.register(exportRoutes)
  await app.register(fhirRoutes)
  await app.register(importRoutes, { config })
  await app.register(liveRoutes, { config })
  await app.register(pairingRoutes, { config })
  await app.register(demoRoutes, { config })
  await app.register(dashboard, { config })
  return app
}
