import type { Hello } from '#protocol/messages'
import { ServerError } from '../errors.ts'
import type { Store } from '../store/store.ts'
import type { StreamRecord } from '../store/time-series.ts'
import { liveColumnNames } from './frame-columns.ts'

/**
 * The stream a hello speaks of: the stored one, or a new one of this session.
 * @throws {ServerError} when the session holds another stream, or this one began differently
 */
export async function openStream({ records, series }: Store, hello: Hello): Promise<StreamRecord> {
  const asked: StreamRecord = {
    id: hello.stream,
    sessionId: hello.session,
    kind: 'live',
    columns: liveColumnNames(hello.channels),
    rateHz: hello.rateHz,
    startedAtUs: hello.startedAtUs,
    resolutionMs2: hello.resolutionMs2 ?? null,
    source: null,
  }
  const known = await series.streamOfSession(hello.session)
  if (known) return requireSame(known, asked)
  await series.addStream(asked)
  const added = await series.streamOfSession(hello.session)
  if (!added) throw mismatch(`Stream ${asked.id} belongs to another session; make a new stream id.`)
  await records.updateSession(hello.session, { startedAtUs: hello.startedAtUs, rateHz: hello.rateHz })
  return requireSame(added, asked)
}

function requireSame(known: StreamRecord, asked: StreamRecord): StreamRecord {
  if (known.id !== asked.id) {
    throw mismatch(`The session holds stream ${known.id}; start a new session for another one.`)
  }
  if (known.rateHz !== asked.rateHz || known.columns.length !== asked.columns.length) {
    const began = `${known.rateHz} Hz and ${known.columns.length} channels`
    throw mismatch(`Stream ${known.id} began with ${began}; start a new session.`)
  }
  return known
}

function mismatch(reason: string): ServerError {
  return new ServerError('STREAM_MISMATCH', { reason })
}
