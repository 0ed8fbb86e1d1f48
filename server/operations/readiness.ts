import type { Store } from '../store/store.ts'
import type { Lifecycle } from './lifecycle.ts'
import type { StorageCondition, StorageTrouble } from './storage-condition.ts'

/** Below this much room people are warned, bytes: an hour of eight 100 Hz streams takes about a quarter of it. */
export const LOW_ROOM_BYTES = 256 * 1024 * 1024

export type ReasonCode =
  | 'STARTING'
  | 'STOPPING'
  | 'DISK_FULL'
  | 'DISK_READ_ONLY'
  | 'DISK_FAILING'
  | 'DISK_LOW'
  | 'SERIES_SPILLING'
  | 'STORE_UNREADABLE'

export interface Reason {
  readonly code: ReasonCode
  readonly detail: string
  /** ISO time, where it is known. */
  readonly since: string | null
}

export interface Readiness {
  readonly ready: boolean
  /** Why it is not. */
  readonly reasons: readonly Reason[]
  /** What needs somebody's attention although all is served. */
  readonly warnings: readonly Reason[]
}

const TROUBLE_REASONS: Readonly<Record<StorageTrouble, Omit<Reason, 'since'>>> = {
  full: {
    code: 'DISK_FULL',
    detail:
      'Nothing more can be stored: the disk of the server is full. Make room; storing goes on by itself then.',
  },
  'read-only': {
    code: 'DISK_READ_ONLY',
    detail:
      'Nothing more can be stored: the data folder of the server is read-only. Make it writable; storing goes on ' +
      'by itself then.',
  },
  failing: {
    code: 'DISK_FAILING',
    detail:
      'Nothing more can be stored: the disk of the server reports errors. Look at the log and the disk; storing ' +
      'goes on by itself when a write goes through.',
  },
}

/** Whether requests and samples should be sent to this server, and why not. */
export async function readiness(parts: {
  readonly lifecycle: Lifecycle
  readonly condition: StorageCondition
  readonly store: Pick<Store, 'records' | 'seriesStatus'>
}): Promise<Readiness> {
  const reasons: Reason[] = []
  const warnings: Reason[] = []
  const { lifecycle, condition, store } = parts
  if (lifecycle.phase === 'starting') {
    reasons.push({ code: 'STARTING', detail: 'The server is starting. Ask again in a moment.', since: null })
  }
  if (lifecycle.phase === 'stopping') {
    const detail = 'The server is stopping. Reconnect when it runs again; what was acknowledged is stored.'
    reasons.push({ code: 'STOPPING', detail, since: null })
  }
  const problem = await condition.ask()
  if (problem) reasons.push({ ...TROUBLE_REASONS[problem.trouble], since: problem.since })
  const room = problem ? null : await condition.room()
  if (room && room.freeBytes < LOW_ROOM_BYTES) {
    const mb = Math.floor(room.freeBytes / 1e6)
    const detail = `The disk of the server has ${mb} MB left. Make room before recordings cannot be stored.`
    warnings.push({ code: 'DISK_LOW', detail, since: null })
  }
  const series = store.seriesStatus()
  if (series.problem !== null) {
    warnings.push({ code: 'SERIES_SPILLING', detail: series.problem, since: series.since })
  }
  if (lifecycle.phase === 'running') {
    await store.records.sessionsInState('recording').catch((error: Error) => {
      const detail = `The database cannot be read (${error.message}). Check it with swaybook verify.`
      reasons.push({ code: 'STORE_UNREADABLE', detail, since: null })
    })
  }
  return { ready: reasons.length === 0, reasons, warnings }
}
