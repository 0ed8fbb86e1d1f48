import type { Imported, SessionSummary } from '#protocol/resources'
import { storageTrouble } from './storage-trouble.svelte'
import { ApiError, errorOfResponse, UNREACHABLE } from './problem'
import { typedSetUp } from './set-up'
import type { SetUpDraft } from './set-up'

export interface TraceFields {
  unit?: string
  rateHz?: string
  columns?: string
  exercise?: string
  surface?: string
  /** The rest of the set-up, in text as every field of a form. */
  foreToHindCm?: string
  leftToRightCm?: string
  heightCm?: string
  firmness?: string
  unstable?: string
  /** 'phone' for what a phone recorded. */
  sensor?: string
  /** How the sensor sits: `x=cranial,z=dorsal`. */
  mount?: string
  /** When the recording began, ISO 8601, for a file that does not say it. */
  startedAt?: string
}

/** The set-up of a file; nothing but the words where nobody named an exercise. */
export function uploadFields(draft: SetUpDraft): TraceFields {
  const { exercise, surface, ...measured } = typedSetUp(draft)
  if (exercise === '') return { exercise, surface }
  return {
    exercise,
    surface,
    ...Object.fromEntries(Object.entries(measured).map(([name, value]) => [name, textOf(value)])),
  }
}

/** Numbers with at most three decimals and no exponent: inches make long ones. */
function textOf(value: string | number | boolean): string {
  return typeof value === 'number' ? String(Math.round(value * 1000) / 1000) : String(value)
}

export interface UploadProgress {
  /** Share of the file that left this device, 0..1. */
  onSent(share: number): void
  signal: AbortSignal
}

/**
 * Sends one trace file and waits for its analysis. XMLHttpRequest, because fetch tells nothing
 * about how much of a body has been sent.
 */
export function uploadTrace(
  dogId: string,
  file: File,
  fields: TraceFields,
  progress: UploadProgress,
): Promise<SessionSummary> {
  const body = new FormData()
  // Text fields first: a server that reads parts in order knows them when the file begins.
  for (const [name, value] of Object.entries(fields)) if (value) body.append(name, value)
  body.append('file', file, file.name)

  return send(`/api/dogs/${encodeURIComponent(dogId)}/traces`, body, progress)
}

/** Sends the archive of a dog and waits until it is back, or refused. */
export function importDog(file: File, progress: UploadProgress): Promise<Imported> {
  const body = new FormData()
  body.append('file', file, file.name)
  return send('/api/imports', body, progress)
}

function send<T>(url: string, body: FormData, progress: UploadProgress): Promise<T> {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest()
    request.open('POST', url)
    request.upload.onprogress = (event) => {
      if (event.lengthComputable) progress.onSent(event.loaded / event.total)
    }
    request.upload.onload = () => progress.onSent(1)
    request.onload = () => {
      if (request.status >= 200 && request.status < 300) resolve(JSON.parse(request.responseText))
      else {
        const error = errorOfResponse(request.status, request.responseText)
        storageTrouble.noteRefusal(error)
        reject(error)
      }
    }
    request.onerror = () => reject(new ApiError(UNREACHABLE, { offline: true }))
    request.onabort = () => reject(new ApiError('Stopped.'))
    progress.signal.addEventListener('abort', () => request.abort(), { once: true })
    request.send(body)
  })
}
