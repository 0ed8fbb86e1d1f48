import { spawn, spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, relative } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'
import { shapeProblems } from './report-shape.ts'
import { projectRoot, spawnBin, withoutSourceCondition } from './run.ts'
import type { Outcome } from './run.ts'
import { BAD_SAMPLES, samplePath, sampleText } from './samples.ts'

const BUILD_MS = 120_000

/** `npx swaybook …` from a folder, as a user types it; --no keeps npx from looking anywhere else. */
function npx(args: readonly string[], cwd: string): Outcome {
  const { status, stdout, stderr } = spawnSync('npx', ['--no', ...args], {
    cwd,
    encoding: 'utf8',
    env: withoutSourceCondition(),
    shell: process.platform === 'win32',
  })
  return { code: status, out: stdout, err: stderr }
}

/** Output goes to a pipe that is closed after the first piece that comes through it. */
function intoClosedPipe(args: readonly string[]): Promise<{ code: number | null; err: string }> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [join(projectRoot, 'server/bin.mjs'), ...args], {
      env: withoutSourceCondition(),
    })
    child.stdout.destroy()
    let err = ''
    child.stderr.on('data', (piece: Buffer) => (err += piece.toString()))
    child.on('error', reject)
    child.on('close', (code) => resolve({ code, err }))
  })
}

describe('the swaybook process', () => {
  // The first call builds; what it says of that goes to standard error, which is empty from then on.
  beforeAll(() => {
    const { code, err } = spawnBin(['--help'])
    expect(code, err).toBe(0)
  }, BUILD_MS)

  it('prints a table, and one JSON object with --json', () => {
    const table = spawnBin(['analyse', samplePath('rocker-steps.csv')])
    expect(table).toMatchObject({ code: 0, err: '' })
    expect(table.out).toMatch(/^Trace {6}rocker-steps\.csv: 6926 samples/)
    const json = spawnBin(['analyse', samplePath('rocker-steps.csv'), '--json'])
    expect(json).toMatchObject({ code: 0, err: '' })
    expect(shapeProblems(JSON.parse(json.out))).toEqual([])
  })

  it('reads standard input for -', () => {
    const { code, out } = spawnBin(['analyse', '-', '--json'], { input: sampleText('tremor.csv') })
    expect(code).toBe(0)
    const { trace } = JSON.parse(out) as { trace: { file: unknown; samples: number } }
    expect(trace).toMatchObject({ file: null, samples: 7759 })
    const empty = spawnBin(['analyse', '-'])
    expect(empty).toMatchObject({ code: 3, out: '' })
    expect(empty.err).toMatch(/^swaybook: [^\n]*the file is empty[^\n]*\n$/)
  })

  it('refuses a bad file with exit code 3 and one line, bad usage with 2', () => {
    const bad = spawnBin(['analyse', samplePath(`bad/${BAD_SAMPLES[0]}`)])
    expect(bad).toMatchObject({ code: 3, out: '' })
    expect(bad.err).toMatch(/^swaybook: [^\n]+\n$/)
    const usage = spawnBin(['analyse'])
    expect(usage).toMatchObject({ code: 2, out: '' })
    expect(usage.err).toMatch(/^swaybook: [^\n]+\n$/)
  })

  it('without a command prints its help and ends with exit code 2', () => {
    const { code, out } = spawnBin([])
    expect(code).toBe(2)
    expect(out).toMatch(/^Usage: swaybook <command>/)
  })

  it('is quiet when the reader of its output goes away', async () => {
    for (const options of [[], ['--json']]) {
      const { code, err } = await intoClosedPipe(['analyse', samplePath('quiet-stand.csv'), ...options])
      expect(err).toBe('')
      expect(code).toBe(0)
    }
  })

  it('is found by npx in the project folder, and by path from another one', () => {
    const inside = npx(['swaybook', 'analyse', 'sample-traces/quiet-stand.csv'], projectRoot)
    expect(inside.code, inside.err).toBe(0)
    expect(inside.out).toContain('quiet-stand.csv: 4500 samples')
    const elsewhere = mkdtempSync(join(tmpdir(), 'swaybook-elsewhere-'))
    try {
      const path = relative(elsewhere, samplePath('quiet-stand.csv'))
      const outside = spawnBin(['analyse', path], { cwd: elsewhere })
      expect(outside.code, outside.err).toBe(0)
      expect(outside.out).toBe(inside.out)
      const prefixed = npx(['--prefix', projectRoot, 'swaybook', 'analyse', path], elsewhere)
      expect(prefixed.code, prefixed.err).toBe(0)
      expect(prefixed.out).toBe(inside.out)
    } finally {
      rmSync(elsewhere, { recursive: true })
    }
  })
})
