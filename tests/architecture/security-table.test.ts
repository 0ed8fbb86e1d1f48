import { existsSync, readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { describe, expect, it } from 'vitest'

const root = fileURLToPath(new URL('../..', import.meta.url))
const text = readFileSync(`${root}server/SECURITY.md`, 'utf8')

/** OWASP ASVS 5.0.0, its CSV: per section the levels of its requirements in their order. */
const LEVELS: Record<string, string> = {
  '1.1': '22',
  '1.2': '1111122223',
  '1.3': '112222222223',
  '1.4': '222',
  '1.5': '123',
  '2.1': '122',
  '2.2': '112',
  '2.3': '12223',
  '2.4': '23',
  '3.1': '3',
  '3.2': '113',
  '3.3': '12223',
  '3.4': '11222233',
  '3.5': '11122333',
  '3.6': '3',
  '3.7': '22333',
  '4.1': '12233',
  '4.2': '23333',
  '4.3': '22',
  '4.4': '1222',
  '5.1': '2',
  '5.2': '112333',
  '5.3': '113',
  '5.4': '222',
  '6.1': '122',
  '6.2': '111111112222',
  '6.3': '11223333',
  '6.4': '112233',
  '6.5': '22222333',
  '6.6': '2223',
  '6.7': '33',
  '6.8': '2222',
  '7.1': '222',
  '7.2': '1111',
  '7.3': '22',
  '7.4': '11222',
  '7.5': '223',
  '7.6': '22',
  '8.1': '1233',
  '8.2': '1123',
  '8.3': '133',
  '8.4': '23',
  '9.1': '111',
  '9.2': '1222',
  '10.1': '22',
  '10.2': '223',
  '10.3': '22223',
  '10.4': '1111122222233333',
  '10.5': '22222',
  '10.6': '22',
  '10.7': '222',
  '11.1': '2233',
  '11.2': '22233',
  '11.3': '11233',
  '11.4': '1222',
  '11.5': '23',
  '11.6': '23',
  '11.7': '33',
  '12.1': '12233',
  '12.2': '11',
  '12.3': '22223',
  '13.1': '2333',
  '13.2': '222223',
  '13.3': '2233',
  '13.4': '1222233',
  '14.1': '22',
  '14.2': '12223333',
  '14.3': '122',
  '15.1': '12233',
  '15.2': '12233',
  '15.3': '1222222',
  '15.4': '3333',
  '16.1': '2',
  '16.2': '22222',
  '16.3': '2222',
  '16.4': '222',
  '16.5': '2223',
  '17.1': '23',
  '17.2': '22223333',
  '17.3': '22',
}

const asked = Object.entries(LEVELS).flatMap(([section, levels]) =>
  [...levels].map((level, k) => ({ id: `${section}.${k + 1}`, level })).filter(({ level }) => level < '3'),
)

const cells = (line: string) =>
  line
    .split('|')
    .slice(1, -1)
    .map((cell) => cell.trim())
const lines = text.split('\n').filter((line) => /^\| \d+\./.test(line))
const rows = lines.map(cells).filter((row) => row.length === 5)
const leftOut = lines.map(cells).filter((row) => row.length === 2)

/** `9.*`, `1.2.6–1.2.8` or one id. */
function idsOf(span: string): string[] {
  if (span.endsWith('.*')) return asked.map(({ id }) => id).filter((id) => id.startsWith(span.slice(0, -1)))
  const [first, last = first] = span.split('–')
  const section = first.slice(0, first.lastIndexOf('.'))
  const [from, to] = [first, last].map((id) => Number(id.slice(id.lastIndexOf('.') + 1)))
  return Array.from({ length: to - from + 1 }, (_, k) => `${section}.${from + k}`)
}

describe('the table of ASVS 5.0.0', () => {
  it('has each of the 70 rows of level 1 and the 183 of level 2 once, or says why not', () => {
    expect(asked.filter(({ level }) => level === '1')).toHaveLength(70)
    expect(asked.filter(({ level }) => level === '2')).toHaveLength(183)
    const told = [...rows.map(([id]) => id), ...leftOut.flatMap(([span]) => idsOf(span))]
    expect([...told].sort()).toEqual(asked.map(({ id }) => id).sort())
    for (const [, why] of leftOut) expect(why).not.toBe('')
  })

  it('gives levels as the standard does, a state, and how', () => {
    const levels = new Map(asked.map(({ id, level }) => [id, level]))
    for (const [id, level, state, how] of rows) {
      expect([id, level]).toEqual([id, levels.get(id)])
      expect(['met', 'partly', 'no'], id).toContain(state)
      expect(how, id).not.toBe('')
    }
  })

  it('names tests that exist, and shows every row that is met', () => {
    for (const [id, , state, , shown] of rows) {
      const proofs = shown === '' ? [] : shown.split('<br>')
      expect([id, state !== 'no', proofs.length > 0]).toEqual([id, state !== 'no', state !== 'no'])
      for (const proof of proofs) {
        const [, file, title] = /^`([^`]+)`(?: (.+))?$/.exec(proof) ?? []
        expect([id, file, existsSync(`${root}${file}`)]).toEqual([id, file, true])
        if (file.endsWith('.md')) continue
        // As it stands in the file, between quotes.
        const source = readFileSync(`${root}${file}`, 'utf8')
        const quoted = ["'", '"', '`'].some((quote) => source.includes(`${quote}${title}${quote}`))
        expect([id, title, quoted]).toEqual([id, title, true])
      }
    }
  })
})
