import type { SessionSummary } from '#protocol/resources'
import { ApiError } from './problem'
import { uploadTrace } from './upload'
import type { TraceFields } from './upload'

export type UploadState = 'waiting' | 'sending' | 'analysing' | 'done' | 'failed'

/** One file on its way: how far it is, and its session or what was wrong with it. */
export class Upload {
  readonly file: File
  readonly fields: TraceFields
  state = $state<UploadState>('waiting')
  share = $state(0)
  session = $state.raw<SessionSummary | null>(null)
  error = $state.raw<ApiError | null>(null)

  constructor(file: File, fields: TraceFields) {
    this.file = file
    // A copy: the person may change the form for the next batch.
    this.fields = $state({ ...fields })
  }
}

type Send = typeof uploadTrace

/** Sends files one after the other, in the order they were added. */
export class UploadQueue {
  uploads = $state<Upload[]>([])
  readonly #dogId: string
  readonly #send: Send
  readonly #abort = new AbortController()
  #running = false

  constructor(dogId: string, send: Send = uploadTrace) {
    this.#dogId = dogId
    this.#send = send
  }

  get busy() {
    return this.uploads.some((upload) => upload.state !== 'done' && upload.state !== 'failed')
  }

  add(files: Iterable<File>, fields: TraceFields) {
    for (const file of files) this.uploads.push(new Upload(file, fields))
    void this.#run()
  }

  again(upload: Upload) {
    upload.state = 'waiting'
    upload.error = null
    upload.share = 0
    void this.#run()
  }

  remove(upload: Upload) {
    this.uploads = this.uploads.filter((other) => other !== upload)
  }

  stop() {
    this.#abort.abort()
  }

  async #run() {
    if (this.#running) return
    this.#running = true
    for (let next = this.#next(); next && !this.#abort.signal.aborted; next = this.#next())
      await this.#one(next)
    this.#running = false
  }

  #next() {
    return this.uploads.find((upload) => upload.state === 'waiting')
  }

  async #one(upload: Upload) {
    upload.state = 'sending'
    try {
      upload.session = await this.#send(this.#dogId, upload.file, $state.snapshot(upload.fields), {
        signal: this.#abort.signal,
        onSent: (share) => {
          upload.share = share
          if (share >= 1) upload.state = 'analysing'
        },
      })
      upload.state = 'done'
    } catch (cause) {
      upload.error = cause instanceof ApiError ? cause : new ApiError(String(cause), { cause })
      upload.state = 'failed'
    }
  }
}
