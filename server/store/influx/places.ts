import type { Database as SqliteDatabase, Statement } from 'better-sqlite3'
import type { Place } from './place.ts'
import { isStorable, periodUs, timeUs, usableBaseUs } from './place.ts'

/** Room a live stream gets to grow into, s: a recording ends after 12 h. */
const LIVE_ROOM_S = 13 * 3600

interface StreamRow {
  readonly dog_id: string
  readonly kind: 'live' | 'trace'
  readonly rate_hz: number
  readonly started_at_us: number | null
  readonly next_index: number
  readonly complete: 0 | 1
}

interface PlaceRow {
  readonly dog_id: string
  readonly slot: number
  readonly base_us: number
  readonly period_us: number
  readonly end_us: number
}

/** Gives streams their places; a place stays until its stream is deleted, and then until InfluxDB is rid of it. */
export class Places {
  readonly #raw: SqliteDatabase
  readonly #place: Statement<[string], PlaceRow>
  readonly #stream: Statement<[string], StreamRow>
  readonly #slotsTaken: Statement<[{ dogId: string; fromUs: number; toUs: number; except: string }], number>
  readonly #insert: Statement
  readonly #extend: Statement

  constructor(raw: SqliteDatabase) {
    this.#raw = raw
    this.#place = raw.prepare(
      'select dog_id, slot, base_us, period_us, end_us from series_places where stream_id = ?',
    )
    this.#stream = raw.prepare(
      `select dog_id, kind, streams.rate_hz, streams.started_at_us, next_index, complete
       from streams join sessions on sessions.id = session_id where streams.id = ?`,
    )
    this.#slotsTaken = raw
      .prepare<[{ dogId: string; fromUs: number; toUs: number; except: string }], number>(
        `select slot from series_places
           where dog_id = :dogId and base_us < :toUs and end_us > :fromUs and stream_id <> :except
         union select slot from series_deletions
           where dog_id = :dogId and from_us < :toUs and to_us > :fromUs`,
      )
      .pluck()
    this.#insert = raw.prepare(
      `insert into series_places (stream_id, dog_id, slot, base_us, period_us, end_us) values (?, ?, ?, ?, ?, ?)`,
    )
    this.#extend = raw.prepare('update series_places set end_us = ? where stream_id = ?')
  }

  /** Null for a stream that has none. */
  of(stream: string): Place | null {
    const row = this.#place.get(stream)
    return row ? placeOf(row) : null
  }

  /**
   * The place of a stream that reaches `endIndex`, made or made longer where it must be. Null when the stream is gone;
   * the reason, when InfluxDB has no room for it.
   */
  reserve(stream: string, endIndex: number): Place | string | null {
    const known = this.of(stream)
    if (known && timeUs(known, endIndex) <= known.endUs) return known
    return this.#raw
      .transaction(() => (known ? this.#lengthen(stream, known, endIndex) : this.#make(stream, endIndex)))
      .immediate()
  }

  #make(stream: string, endIndex: number): Place | string | null {
    const row = this.#stream.get(stream)
    if (!row) return null
    const baseUs = usableBaseUs(row.started_at_us) ?? Date.now() * 1000
    const period = periodUs(row.rate_hz)
    const grown = Math.ceil(Math.max(endIndex, row.next_index) * period) + 1
    const isGrowing = row.kind === 'live' && row.complete === 0
    const endUs = baseUs + (isGrowing ? Math.max(grown, LIVE_ROOM_S * 1e6) : grown)
    if (!isStorable(endUs)) return 'its samples reach beyond the year 2255'
    const range = { dogId: row.dog_id, fromUs: baseUs, toUs: endUs, except: stream }
    const taken = new Set(this.#slotsTaken.all(range))
    let slot = 0
    while (taken.has(slot)) slot++
    this.#insert.run(stream, row.dog_id, slot, baseUs, period, endUs)
    return { dogId: row.dog_id, slot, baseUs, periodUs: period, endUs }
  }

  #lengthen(stream: string, place: Place, endIndex: number): Place | string {
    const endUs = timeUs(place, endIndex) + 1
    if (!isStorable(endUs)) return 'its samples reach beyond the year 2255'
    const range = { dogId: place.dogId, fromUs: place.endUs, toUs: endUs, except: stream }
    if (this.#slotsTaken.all(range).includes(place.slot)) {
      return 'it lasts longer than its kind may, into the time of another stream'
    }
    this.#extend.run(endUs, stream)
    return { ...place, endUs }
  }
}

function placeOf(row: PlaceRow): Place {
  return {
    dogId: row.dog_id,
    slot: row.slot,
    baseUs: row.base_us,
    periodUs: row.period_us,
    endUs: row.end_us,
  }
}
