import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { run } from './run.ts'
import type { Outcome } from './run.ts'
import { BAD_SAMPLES, samplePath } from './samples.ts'

let folder: string
beforeAll(() => (folder = mkdtempSync(join(tmpdir(), 'swaybook-cli-'))))
afterAll(() => rmSync(folder, { recursive: true }))

function file(name: string, content: string | Uint8Array): string {
  const path = join(folder, name)
  writeFileSync(path, content)
  return path
}

/** Nothing on standard output and one line on standard error that begins with the name of the program. */
function expectOneLine({ out, err }: Outcome, message: RegExp): void {
  expect(out).toBe('')
  expect(err).toMatch(/^swaybook: [^\n]+\n$/)
  expect(err).toMatch(message)
}

describe('input that cannot be analysed ends with exit code 3', () => {
  const said: Readonly<Record<string, RegExp>> = {
    'text-in-a-cell.csv': /line 121, column "ay": "n\/a" is not a number\. Remove the row or fill the cell/,
    'unknown-unit.csv': /median norm .* 29\.\d+.*Say the unit.*\(--unit/,
    'time-backwards.csv': /line 151: the time goes back by 2\.96 s.*Cut the file at the jump/,
    'no-axes.csv': /no three acceleration columns among "t", "skin_temperature_c".*--columns/,
  }

  it.each(BAD_SAMPLES)('%s: one line with place, value and remedy', async (name) => {
    const outcome = await run('analyse', samplePath(`bad/${name}`), '--json')
    expect(outcome.code).toBe(3)
    expectOneLine(outcome, said[name])
    expect(outcome.err).toContain(name)
  })

  const header = 't_s,ax_mps2,ay_mps2,az_mps2\n'
  const rows = (n: number, line: (i: number) => string) =>
    header + Array.from({ length: n }, (_, i) => `${line(i)}\n`).join('')
  const still = (i: number) => `${i / 100},0,0,9.8`
  it.each<[string, string | Uint8Array, RegExp]>([
    ['empty.csv', '', /the file is empty\. Choose the file that holds the samples/],
    ['blank.csv', ' \n\n \t\n', /the file is empty/],
    ['comments.csv', '# nothing\n# but words\n', /there is no row/],
    ['header-only.csv', header, /there is no sample in the file/],
    ['one-row.csv', rows(1, still), /1 sample is too few \(at least 10\)/],
    ['nine-rows.csv', rows(9, still), /9 samples are too few \(at least 10\)/],
    ['short.csv', rows(50, still), /0\.49 s is too short \(at least 1 s\)/],
    ['binary.bin', Uint8Array.from({ length: 4096 }, (_, i) => (i * 7919) % 256), /not text/],
    ['words.txt', 'Juniper stood well today.\nShe had a biscuit.\n', /no three acceleration columns/],
    ['bad.json', '{"t": [0, 0.01, ', /line 1: the JSON cannot be read/],
    ['no-samples.json', '{"name": "Juniper"}', /"acc" is missing/],
    [
      'impossible.csv',
      rows(200, (i) => (i === 57 ? '0.57,0,1e9,9.8' : still(i))),
      /line 59, column "ay_mps2": 1000000000 m\/s² is more/,
    ],
    [
      'jump.csv',
      rows(200, (i) => `${i < 5 ? i / 100 : 1.77e9 + i / 100},0,0,9.8`),
      /line 7: the times span 492000 h, with a jump of 1770000000 s/,
    ],
    ['off.csv', rows(200, (i) => `${i / 100},0,0,0`), /averages to exactly zero/],
  ])('%s: one line that says what is wrong', async (name, content, message) => {
    const outcome = await run('analyse', file(name, content))
    expect(outcome.code).toBe(3)
    expectOneLine(outcome, message)
  })

  it('a path that does not exist, and a folder', async () => {
    const missing = await run('analyse', join(folder, 'nowhere.csv'))
    expect(missing.code).toBe(3)
    expectOneLine(missing, /nowhere\.csv: there is no such file\. Check the path\./)
    const directory = await run('analyse', folder)
    expect(directory.code).toBe(3)
    expectOneLine(directory, /this is a folder, not a file/)
  })

  it('an interval that lies in a gap', async () => {
    const gap = rows(600, (i) => `${i < 300 ? i / 100 : i / 100 + 5},0,${Math.sin(i)},9.8`)
    const outcome = await run('analyse', file('gap.csv', gap), '--interval', '4:7')
    expect(outcome.code).toBe(3)
    expectOneLine(outcome, /interval 4:7 s holds no signal\. Choose an interval outside the gaps/)
  })
})

describe('bad usage ends with exit code 2', () => {
  const sample = samplePath('quiet-stand.csv')
  it.each<[string, string[], RegExp]>([
    ['no file', [], /takes one FILE, got 0/],
    ['two files', [sample, sample], /takes one FILE, got 2/],
    ['an unknown option', [sample, '--speed', '2'], /Unknown option '--speed'/],
    ['an option without its value', [sample, '--rate'], /--rate/],
    ['a value that looks like an option', [sample, '--interval', '-1:5'], /--interval/],
    ['a value for a switch', [sample, '--json=yes'], /--json/],
    ['a rate in words', [sample, '--rate', 'fast'], /--rate must be a number .* from 10 to 2000, got "fast"/],
    ['a rate of 0', [sample, '--rate', '0'], /--rate/],
    ['a rate below 0', [sample, '--rate=-100'], /--rate/],
    ['a rate too high', [sample, '--rate', '2001'], /--rate/],
    ['an endless rate', [sample, '--rate', 'Infinity'], /--rate/],
    ['an empty rate', [sample, '--rate', ''], /--rate/],
    ['an unknown unit', [sample, '--unit', 'furlong'], /--unit must be g, mg or m\/s2, got "furlong"/],
    ['a unit in capitals', [sample, '--unit', 'G'], /--unit/],
    ['an unknown mount', [sample, '--mount', 'sideways'], /mount "sideways" is not understood/],
    ['a mount of one axis', [sample, '--mount', 'x=cranial'], /at least two of the axes/],
    ['a left-handed mount', [sample, '--mount', 'x=cranial,y=right,z=dorsal'], /not a right-handed set/],
    [
      'a mount with one direction twice',
      [sample, '--mount', 'x=cranial,y=cranial'],
      /not a right-handed set/,
    ],
    ['an interval of one number', [sample, '--interval', '5'], /--interval must be FROM:TO in seconds/],
    ['an interval that ends before it begins', [sample, '--interval', '9:5'], /--interval/],
    ['an empty interval', [sample, '--interval', '5:5'], /--interval/],
    ['an interval in words', [sample, '--interval', 'a:b'], /--interval/],
    ['an interval before the recording', [sample, '--interval=-3:5'], /--interval/],
    [
      'an interval after the recording',
      [sample, '--interval', '40:46'],
      /interval 40:46 must lie within the recording, 0 to 45\.000 s/,
    ],
    [
      'an interval of two samples',
      [sample, '--interval', '5:5.02'],
      /interval 5:5\.02 is too short to measure/,
    ],
    ['columns without a role', [sample, '--columns', '1,2,3'], /names no column role/],
    ['columns with one axis missing', [sample, '--columns', 'ax=1,ay=2'], /az/],
    ['a column role twice', [sample, '--columns', 'ax=1,ax=2,ay=3,az=4'], /ax/],
    ['a band of one number', [sample, '--tremor-band', '4'], /--tremor-band must be FROM:TO in Hz/],
    ['a band upside down', [sample, '--tremor-band', '12:4'], /--tremor-band/],
    ['a band from 0', [sample, '--tremor-band', '0:12'], /--tremor-band must begin above 0 Hz/],
  ])('%s', async (_, args, message) => {
    const outcome = await run('analyse', ...args)
    expect(outcome.code).toBe(2)
    expectOneLine(outcome, message)
  })

  it('an unknown command', async () => {
    const outcome = await run('measure', sample)
    expect(outcome.code).toBe(2)
    expectOneLine(outcome, /there is no command "measure"; swaybook --help lists them/)
  })
})

it('--help and analyse --help print help and end with exit code 0', async () => {
  for (const args of [['--help'], ['-h'], ['help'], ['analyse', '--help'], ['analyse', '-h']]) {
    const { code, out, err } = await run(...args)
    expect(code).toBe(0)
    expect(out).toMatch(/^Usage: swaybook/)
    expect(err).toBe('')
  }
})
