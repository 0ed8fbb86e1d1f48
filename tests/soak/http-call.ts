import { request } from 'node:http'

export interface Call {
  readonly method: 'GET' | 'POST'
  readonly port: number
  readonly path: string
  /** The name the server answers to, when a line leads there. */
  readonly host: string
  readonly cookie: string | null
  readonly body?: object
}

export interface Answer {
  readonly status: number
  readonly text: string
}

/** Longest wait for an answer, ms: a silent line must not hold a caller for ever. */
const TIMEOUT_MS = 60_000

/** One call of the API over a connection of its own; rejects when the line breaks. */
export function call({ method, port, path, host, cookie, body }: Call): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const sent = body === undefined ? undefined : JSON.stringify(body)
    const headers = {
      host,
      ...(cookie !== null && { cookie }),
      ...(sent !== undefined && { 'content-type': 'application/json' }),
    }
    const options = { method, port, path, host: '127.0.0.1', headers, agent: false, timeout: TIMEOUT_MS }
    const asked = request(options, (response) => {
      const pieces: Buffer[] = []
      response.on('data', (piece: Buffer) => pieces.push(piece))
      response.on('error', reject)
      response.on('end', () => {
        resolve({ status: response.statusCode ?? 0, text: Buffer.concat(pieces).toString() })
      })
    })
    asked.on('timeout', () => asked.destroy(new Error(`no answer from ${path} within ${TIMEOUT_MS} ms`)))
    asked.on('error', reject)
    asked.end(sent)
  })
}
