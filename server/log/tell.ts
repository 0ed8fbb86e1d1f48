import type { FastifyBaseLogger } from 'fastify'
import { LOG_EVENTS } from './events.ts'
import type { LogEvent, LogField } from './events.ts'
import { plainText } from './plain-text.ts'

type Fields<E extends LogEvent> = { readonly [Field in LogField<E>]?: unknown }

/**
 * One line of the log: the only way to write one. Text is made plain; what is null or left out is no field of it.
 * With `requestId` of the request whose `log` this is.
 */
export function tell<E extends LogEvent>(log: FastifyBaseLogger, event: E, fields: Fields<E> = {}): void {
  const { level, words } = LOG_EVENTS[event]
  const told = Object.entries(fields).flatMap(([name, value]) =>
    value === null || value === undefined
      ? []
      : [[name, typeof value === 'string' ? plainText(value) : value]],
  )
  log[level]({ event, ...Object.fromEntries(told) }, words)
}
