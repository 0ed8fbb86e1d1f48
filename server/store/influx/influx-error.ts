import { HttpError, RequestTimedOutError } from '@influxdata/influxdb-client'

/**
 * `away`: no answer, or one of its own faults: later it may work. `denied`: credentials or database are wrong:
 * a person must act. `rejected`: this data will never be taken. `too large`: the same in smaller parts may be.
 */
export type InfluxFailure = 'away' | 'denied' | 'rejected' | 'too large'

/** What went wrong with InfluxDB; the message says what to do and holds no secrets. */
export class InfluxError extends Error {
  override readonly name = 'InfluxError'
  readonly failure: InfluxFailure
  /** When InfluxDB said so itself. */
  readonly retryAfterMs: number | null

  constructor(
    failure: InfluxFailure,
    message: string,
    { cause, retryAfterMs = null }: { cause?: unknown; retryAfterMs?: number | null } = {},
  ) {
    super(message, { cause })
    this.failure = failure
    this.retryAfterMs = retryAfterMs
  }
}

const MAX_QUOTED = 300

/** What a server says must not stop the recording for a day. */
const LONGEST_RETRY_AFTER_MS = 5 * 60_000

/** A failed request, told for people; `database` is the name it asked for. */
export function influxErrorOf(error: unknown, database: string): InfluxError {
  if (error instanceof InfluxError) return error
  if (error instanceof RequestTimedOutError) {
    return new InfluxError('away', 'InfluxDB did not answer in time; is it overloaded?', { cause: error })
  }
  if (!(error instanceof HttpError)) {
    const { code, message } = error as NodeJS.ErrnoException
    return new InfluxError(
      'away',
      `InfluxDB cannot be reached (${code ?? quoted(message)}); is it running?`,
      {
        cause: error,
      },
    )
  }
  const { statusCode } = error
  const said = quoted(saidBy(error))
  switch (statusCode) {
    case 401:
    case 403:
      return new InfluxError(
        'denied',
        `InfluxDB refuses the credentials (${statusCode}${said}). Correct INFLUX_TOKEN, or INFLUX_USERNAME and ` +
          'INFLUX_PASSWORD, and start again; the account needs to write, read and delete.',
        { cause: error },
      )
    case 404:
      return new InfluxError(
        'denied',
        `InfluxDB has no "${database}", or not this way of writing (404${said}). Create it, or correct INFLUX_DATABASE ` +
          '(1.x) or INFLUX_ORG and INFLUX_BUCKET (2.x).',
        { cause: error },
      )
    case 413:
      return new InfluxError('too large', `InfluxDB takes no request this long (413${said}).`, {
        cause: error,
      })
    default:
      return statusCode === 429 || statusCode >= 500
        ? new InfluxError('away', `InfluxDB takes nothing at the moment (${statusCode}${said}).`, {
            cause: error,
            retryAfterMs: retryAfterMs(error),
          })
        : new InfluxError('rejected', `InfluxDB rejects the data (${statusCode}${said}).`, { cause: error })
  }
}

/**
 * RFC 9110, 10.2.3: seconds, or a date. Read here: the client (1.35) takes the seconds for milliseconds, and no dates.
 */
function retryAfterMs({ headers }: HttpError): number | null {
  const text = String(headers?.['retry-after'] ?? '')
  const ms = /^\d+$/.test(text) ? Number(text) * 1000 : Date.parse(text) - Date.now()
  return ms > 0 ? Math.min(ms, LONGEST_RETRY_AFTER_MS) : null
}

function saidBy({ json, body, statusMessage }: HttpError): string {
  const said = (json as { error?: unknown; message?: unknown } | undefined) ?? {}
  for (const text of [said.error, said.message]) if (typeof text === 'string') return text
  return body ?? statusMessage ?? ''
}

function quoted(text: string): string {
  return text === '' ? '' : `: ${text.length > MAX_QUOTED ? `${text.slice(0, MAX_QUOTED)}…` : text}`
}
