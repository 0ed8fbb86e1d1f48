import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { Report } from '#signal/report-types'
import { run } from './run.ts'
import { samplePath, sampleText } from './samples.ts'

let folder: string
beforeAll(() => (folder = mkdtempSync(join(tmpdir(), 'swaybook-options-'))))
afterAll(() => rmSync(folder, { recursive: true }))

function file(name: string, text: string): string {
  const path = join(folder, name)
  writeFileSync(path, text)
  return path
}

async function report(path: string, ...options: string[]): Promise<Report> {
  const { code, out, err } = await run('analyse', path, ...options, '--json')
  expect(err).toBe('')
  expect(code).toBe(0)
  return JSON.parse(out) as Report
}

/** t, ax, ay, az of the quiet stand (m/s², 100 Hz, 45 s), as numbers in text. */
const cells = sampleText('quiet-stand.csv')
  .trim()
  .split('\n')
  .slice(1)
  .map((line) => line.split(','))
const withHeader = (header: string, row: (cells: string[]) => (string | number)[]) =>
  `${header}\n${cells.map((c) => row(c).join(',')).join('\n')}\n`
const quietStand = samplePath('quiet-stand.csv')

describe('--interval', () => {
  it('measures exactly that interval as one hold, without detection', async () => {
    const { holds } = await report(samplePath('rocker-steps.csv'), '--interval', '30:36.5')
    expect(holds).toHaveLength(1)
    expect(holds[0]).toMatchObject({ fromS: 30, toS: 36.5, durationS: 6.5, endedBy: 'interval' })
    expect(holds[0].sway.ellipse.n).toBe(6.5 * 104)
  })

  it('takes the samples of [from, to): neighbouring intervals share none and miss none', async () => {
    const counts = []
    for (const interval of ['0:7.005', '7.005:13.33', '13.33:45']) {
      const { holds } = await report(quietStand, '--interval', interval)
      counts.push(holds[0].sway.ellipse.n)
    }
    expect(counts).toEqual([701, 632, 3167])
    expect(counts.reduce((a, b) => a + b)).toBe(cells.length)
  })
})

describe('--mount', () => {
  it('identity takes x as CC, y as ML and z as DV without a rotation', async () => {
    const { mount, holds } = await report(quietStand, '--mount', 'identity', '--interval', '5:15')
    expect(mount).toMatchObject({ source: 'identity', headingResolved: true })
    expect(mount.rotation).toEqual([
      [1, 0, 0],
      [0, 1, 0],
      [0, 0, 1],
    ])
    const [{ sway }] = holds
    const swapped = file(
      'swapped.csv',
      withHeader('t_s,ay,ax,az', (c) => c),
    )
    const [other] = (await report(swapped, '--mount', 'identity', '--interval', '5:15')).holds
    expect(other.sway.rms.ml).toBe(sway.rms.cc)
    expect(other.sway.rms.cc).toBe(sway.rms.ml)
    expect(other.sway.rms.dv).toBe(sway.rms.dv)
  })

  it('identity says so when gravity points elsewhere than DV', async () => {
    const upsideDown = file(
      'down.csv',
      withHeader('t_s,ax,ay,az', (c) => [c[0], c[1], c[2], -Number(c[3])]),
    )
    const { mount } = await report(upsideDown, '--mount', 'identity')
    expect(mount.reason).toMatch(/taken as given, but gravity points 1(79|80)° away from DV/)
  })

  it('a stated mount gives ML and CC of the dog, whatever way the sensor sits', async () => {
    const straight = (await report(quietStand, '--mount', 'x=cranial,y=left,z=dorsal', '--interval', '5:15'))
      .holds[0]
    // The same stand from a sensor whose x points left, y caudal, z dorsal.
    const turned = file(
      'turned.csv',
      withHeader('t_s,ax,ay,az', (c) => [c[0], c[2], -Number(c[1]), c[3]]),
    )
    const { mount, holds } = await report(turned, '--mount', 'x=left,y=caudal,z=dorsal', '--interval', '5:15')
    expect(mount).toMatchObject({ source: 'declared', headingResolved: true })
    // 1e-9: the tilt correction turns by the same angle about the same axis, in another order of sums.
    for (const axis of ['ml', 'cc', 'dv', 'horizontal'] as const) {
      expect(holds[0].sway.rms[axis]! / straight.sway.rms[axis]! - 1).toBeCloseTo(0, 9)
    }
  })

  it('auto leaves ML and CC open with a reason, and horizontal sway is that of a stated mount', async () => {
    const auto = (await report(quietStand, '--interval', '5:15')).holds[0].sway
    const stated = (await report(quietStand, '--mount', 'x=cranial,z=dorsal', '--interval', '5:15')).holds[0]
      .sway
    expect(auto.rms).toMatchObject({
      ml: null,
      cc: null,
      reason: expect.stringContaining('heading') as string,
    })
    expect(auto.rms.horizontal / stated.rms.horizontal - 1).toBeCloseTo(0, 9)
    expect(auto.ellipse.area / stated.ellipse.area - 1).toBeCloseTo(0, 9)
  })
})

describe('--rate', () => {
  const noTime = () =>
    file(
      'no-time.csv',
      withHeader('ax_mps2,ay_mps2,az_mps2', (c) => c.slice(1)),
    )

  it('times the samples of a file without a time column', async () => {
    const [timed, untimed] = [await report(quietStand), await report(noTime(), '--rate', '100')]
    expect(untimed.trace).toEqual({ ...timed.trace, file: 'no-time.csv' })
    expect(untimed.holds).toEqual(timed.holds)
  })

  it('is asked for when there is no time column', async () => {
    const { code, err } = await run('analyse', noTime())
    expect(code).toBe(3)
    expect(err).toMatch(/no time column .* Give the samples per second.* \(--rate/)
  })

  it('is the even rate to measure at when there is one', async () => {
    const { trace } = await report(quietStand, '--rate', '50')
    expect(trace).toMatchObject({ rateHz: 50, samples: cells.length, durationS: 45 })
  })
})

describe('--unit', () => {
  const inUnit = (name: string, perMs2: number) =>
    file(
      name,
      withHeader('t,ax,ay,az', (c) => [c[0], ...c.slice(1).map((v) => Number(v) * perMs2)]),
    )

  it('is found from gravity, and may be said: the same numbers from g, mg and m/s²', async () => {
    const expected = (await report(quietStand)).holds[0].sway.rms.horizontal
    for (const [unit, perMs2] of [
      ['g', 1 / 9.80665],
      ['mg', 1000 / 9.80665],
      ['m/s2', 1],
    ] as const) {
      const path = inUnit('unit.csv', perMs2)
      for (const options of [[], ['--unit', unit]]) {
        const { trace, holds } = await report(path, ...options)
        expect(trace.unit).toBe(unit)
        expect(holds[0].sway.rms.horizontal / expected - 1).toBeCloseTo(0, 9)
      }
    }
  })

  it('is believed over the values, and the doubt is written down', async () => {
    const { trace, quality } = await report(inUnit('doubt.csv', 1), '--unit', 'mg')
    expect(trace.unit).toBe('mg')
    expect(quality.reasons.join(' ')).toMatch(/That would be gravity in m\/s2/)
  })
})

describe('--columns', () => {
  const path = () =>
    file(
      'named.csv',
      withHeader('clock,one,two,three,four', (c) => [c[0], 7, c[1], c[2], c[3]]),
    )

  it('finds columns by name and by number alike', async () => {
    const expected = (await report(quietStand, '--mount', 'identity')).holds
    const byName = await report(path(), '--columns', 't=clock,ax=two,ay=three,az=four', '--mount', 'identity')
    const byNumber = await report(path(), '--columns', 't=1,ax=3,ay=4,az=5', '--mount', 'identity')
    expect(byName.holds).toEqual(expected)
    expect(byNumber.holds).toEqual(expected)
  })

  it('needs no time column when the rate is given', async () => {
    const { trace } = await report(path(), '--columns', 'ax=two,ay=three,az=four', '--rate', '200')
    expect(trace).toMatchObject({ rateHz: 200, durationS: 22.5 })
  })

  it('that the file does not have are named, with those it has', async () => {
    const { code, out, err } = await run('analyse', path(), '--columns', 't=1,ax=five,ay=4,az=5')
    expect(code).toBe(3)
    expect(out).toBe('')
    expect(err).toMatch(/no column is named "five"\. The file has "clock", "one"/)
  })
})

it('--tremor-band replaces the first band and leaves the others', async () => {
  const { holds } = await report(samplePath('tremor.csv'), '--tremor-band', '6.5:10.5')
  const bands = holds[1].tremor.bands.map(({ name, fromHz, toHz }) => [name, fromHz, toHz])
  expect(bands).toEqual([
    ['tremor', 6.5, 10.5],
    ['fast', 12, 18],
    ['sway', 0.5, 3.5],
  ])
  expect(Math.abs(holds[1].tremor.bands[0].peakHz! - 8.4)).toBeLessThan(0.3)
  const { out } = await run('analyse', samplePath('tremor.csv'), '--tremor-band', '6.5:10.5')
  expect(out).toContain('tremor is the RMS from 6.5 to 10.5 Hz')
})

it('a band the sensor cannot carry is null with a reason, not a guess', async () => {
  const { holds } = await report(samplePath('tremor.csv'), '--tremor-band', '4:90')
  expect(holds[0].tremor.bands[0]).toMatchObject({
    power: null,
    rms: null,
    peakHz: null,
    reason: expect.stringMatching(/sensor rate 200 Hz is below the 225 Hz/) as string,
  })
})

describe('--version', () => {
  it('prints the version of the package and of the analysis', async () => {
    const { code, out } = await run('--version')
    expect(code).toBe(0)
    expect(out).toMatch(/^swaybook \d+\.\d+\.\d+, analysis \d+\n$/)
  })
})

describe('the table', () => {
  it('counts the exercise, marks the quiet stand, and names the rate of the sensor', async () => {
    const foam = (await run('analyse', samplePath('foam-hands-off.csv'))).out
    expect(foam).toMatch(/^Holds +3, .*\(without the quiet stand\)$/m)
    expect(foam.match(/\(quiet stand\)/g)).toHaveLength(1)
    const phone = (await run('analyse', samplePath('phone.csv'))).out
    expect(phone).toMatch(/at 60 Hz \(measured at 52 Hz\)/)
  })

  it('says that tremor was not measured where it was not, and why a comparison leaves pieces out', async () => {
    expect((await run('analyse', samplePath('sit-between.csv'))).out).toMatch(/not measured/)
    expect((await run('analyse', samplePath('panting.csv'))).out).toMatch(/look like panting/)
  })
})

describe('a coarse sensor', () => {
  it('has its tremor figure called no more than its own noise', async () => {
    const report = JSON.parse((await run('analyse', samplePath('phone.csv'), '--json')).out) as Report
    for (const hold of report.holds) {
      expect(hold.tremor.bands[0].reason).toMatch(/not clearly above this sensor's own noise/)
    }
    const fine = JSON.parse((await run('analyse', samplePath('tremor.csv'), '--json')).out) as Report
    expect(fine.holds.at(-1)!.tremor.bands[0].reason).toBeUndefined()
  })
})
