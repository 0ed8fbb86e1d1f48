import { createServer, request } from 'node:http'
import type { IncomingMessage, ServerResponse } from 'node:http'
import { once } from 'node:events'
import type { AddressInfo } from 'node:net'
import { gunzipSync } from 'node:zlib'

/** What becomes of a request: what InfluxDB answers is `late` when it did its work and nobody is told. */
export type Fault =
  | 'none'
  | 'refused'
  | 'cut before'
  | 'cut after'
  | 'late'
  | 'garbled'
  | { status: number; headers?: Record<string, string> }

export interface V2Account {
  readonly org: string
  readonly bucket: string
  readonly token: string
}

/**
 * An HTTP front before a real influxd, which goes wrong as it is told. With an account it takes the 2.x write and delete
 * API (https://docs.influxdata.com/influxdb/v2/api/v2/, operations PostWrite and PostDelete) and checks what 2.x
 * checks: method, token header, org, bucket, precision. The lines go on unchanged, and the status comes from influxd.
 */
export class InfluxFront {
  readonly #server = createServer((incoming, answer) => void this.#serve(incoming, answer))
  readonly #targetUrl: string
  readonly #account: V2Account | null
  readonly #waiting = new Set<ServerResponse>()
  /** Asked for every request, counted from 0. */
  fault: (count: number, path: string) => Fault = () => 'none'
  requests: string[] = []

  private constructor(targetUrl: string, account: V2Account | null) {
    this.#targetUrl = targetUrl
    this.#account = account
  }

  static async before(targetUrl: string, account: V2Account | null = null): Promise<InfluxFront> {
    const front = new InfluxFront(targetUrl, account)
    front.#server.listen(0, '127.0.0.1')
    await once(front.#server, 'listening')
    return front
  }

  get url(): string {
    return `http://127.0.0.1:${(this.#server.address() as AddressInfo).port}`
  }

  async close(): Promise<void> {
    for (const answer of this.#waiting) answer.destroy()
    this.#server.closeAllConnections()
    await new Promise((resolve) => this.#server.close(resolve))
  }

  async #serve(incoming: IncomingMessage, answer: ServerResponse): Promise<void> {
    const chunks: Buffer[] = []
    for await (const chunk of incoming) chunks.push(chunk as Buffer)
    const body = Buffer.concat(chunks)
    const path = incoming.url ?? '/'
    const fault = this.fault(this.requests.length, path)
    this.requests.push(`${incoming.method} ${path}`)
    if (fault === 'cut before') return void incoming.socket.resetAndDestroy()
    if (typeof fault === 'object') return void answer.writeHead(fault.status, fault.headers).end('{}')
    if (fault === 'refused') return void answer.writeHead(503).end('{"error":"out of order"}')
    const translated = this.#account
      ? translate(incoming, body, this.#account)
      : { path, body, headers: incoming.headers }
    if (typeof translated === 'number') {
      return void answer
        .writeHead(translated, { 'content-type': 'application/json' })
        .end('{"code":"refused","message":"as 2.x would"}')
    }
    const { status, headers, text } = await this.#forward(incoming.method ?? 'GET', translated)
    if (fault === 'cut after') return void incoming.socket.resetAndDestroy()
    if (fault === 'late') return void this.#waiting.add(answer)
    delete headers['content-length']
    delete headers['transfer-encoding']
    answer.writeHead(status, headers).end(fault === 'garbled' ? garbled(text) : text)
  }

  async #forward(method: string, { path, body, headers }: Forwarded) {
    const others = without(headers, 'host')
    const outgoing = request(this.#targetUrl + path, {
      method,
      headers: { ...others, 'content-length': body.length },
    })
    outgoing.end(body)
    const [response] = (await once(outgoing, 'response')) as [IncomingMessage]
    const chunks: Buffer[] = []
    for await (const chunk of response) chunks.push(chunk as Buffer)
    return { status: response.statusCode ?? 500, headers: response.headers, text: Buffer.concat(chunks) }
  }
}

interface Forwarded {
  readonly path: string
  readonly body: Buffer
  readonly headers: IncomingMessage['headers']
}

const NAMES = { ns: 'n', us: 'u', ms: 'ms', s: 's' } as const

/** The request as 1.x wants it, or the status that 2.x gives it. */
function translate(
  incoming: IncomingMessage,
  body: Buffer,
  { org, bucket, token }: V2Account,
): Forwarded | number {
  const url = new URL(incoming.url ?? '/', 'http://front')
  const { pathname, searchParams: asked } = url
  if (incoming.headers.authorization !== `Token ${token}`) return 401
  const headers = without(incoming.headers, 'authorization')
  if (pathname === '/query' && incoming.method === 'GET') {
    // The virtual DBRP mapping: a bucket is the database of its name.
    return asked.get('db') === bucket ? { path: incoming.url!, body, headers } : 404
  }
  if (incoming.method !== 'POST') return 405
  if (asked.get('org') !== org || asked.get('bucket') !== bucket) return 404
  if (pathname === '/api/v2/write') {
    const precision = asked.get('precision') ?? 'ns'
    if (!(precision in NAMES) || !/^text\/plain/.test(incoming.headers['content-type'] ?? '')) return 400
    const query = new URLSearchParams({ db: bucket, precision: NAMES[precision as keyof typeof NAMES] })
    return { path: `/write?${query}`, body, headers }
  }
  if (pathname === '/api/v2/delete') {
    const plain = incoming.headers['content-encoding'] === 'gzip' ? gunzipSync(body) : body
    const { start, stop, predicate } = JSON.parse(plain.toString()) as Record<string, string>
    const [measurement, ...tags] = predicate
      .split(' AND ')
      .map((part) => /^(\w+)="([^"]*)"$/.exec(part)!.slice(1))
    const where = tags.map(([key, value]) => `"${key}" = '${value}'`).join(' AND ')
    const q = `DELETE FROM "${measurement[1]}" WHERE ${where} AND time >= '${start}' AND time <= '${stop}'`
    const form = Buffer.from(String(new URLSearchParams({ q })))
    return {
      path: `/query?db=${bucket}`,
      body: form,
      headers: { 'content-type': 'application/x-www-form-urlencoded' },
    }
  }
  return 404
}

function without(headers: IncomingMessage['headers'], name: string): IncomingMessage['headers'] {
  return Object.fromEntries(Object.entries(headers).filter(([key]) => key !== name))
}

/** One digit of one value is another. */
function garbled(text: Buffer): Buffer {
  return Buffer.from(
    text
      .toString()
      .replace(
        /(\[\d{10,},-?\d*?)(\d)(?=[.,\]])/,
        (_, before, digit) => before + String((Number(digit) + 1) % 10),
      ),
  )
}
