import { createInterface } from 'node:readline'
import type { Readable } from 'node:stream'
import { Writable } from 'node:stream'
import { UsageError } from './usage-error.ts'

/** More than any password, less than what could be no mistake. */
const MAX_STDIN_BYTES = 4096

/**
 * Asks twice for a new password, without showing what is typed.
 * @throws {UsageError} when the two differ, or the person gives up
 */
export async function askNewPassword(input: Readable, ask: Writable): Promise<string> {
  // What is typed goes nowhere: a terminal that a program reads by itself does not echo.
  const nowhere = new Writable({ write: (_piece, _encoding, done) => done() })
  const lines = createInterface({ input, output: nowhere, terminal: true, historySize: 0 })
  const ended = new Promise<never>((_resolve, reject) => {
    const given = () => reject(new UsageError('no password was given; nothing was changed'))
    lines.once('SIGINT', given)
    lines.once('close', given)
  })
  // Both may come in one piece, pasted: the second must not be missed between two questions.
  const typed = lines[Symbol.asyncIterator]()
  const answer = async (question: string): Promise<string> => {
    ask.write(question)
    const line = await Promise.race([typed.next(), ended])
    ask.write('\n')
    return line.done ? ended : line.value
  }
  try {
    const first = await answer('New password (not shown): ')
    if ((await answer('The same again: ')) === first) return first
    throw new UsageError('the two passwords differ; nothing was changed')
  } finally {
    // Nobody waits for it any more.
    ended.catch(() => undefined)
    lines.close()
  }
}

/** The password that another program hands over, without one line end at its end. */
export async function passwordFrom(input: Readable): Promise<string> {
  const pieces: Buffer[] = []
  let bytes = 0
  for await (const piece of input as AsyncIterable<Buffer>) {
    bytes += piece.length
    if (bytes > MAX_STDIN_BYTES) throw new UsageError('more came on standard input than a password can be')
    pieces.push(piece)
  }
  return Buffer.concat(pieces)
    .toString('utf8')
    .replace(/\r?\n$/, '')
}
