import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'

interface Locked {
  readonly version?: string
  readonly resolved?: string
  readonly integrity?: string
  readonly link?: boolean
  readonly hasInstallScript?: boolean
}

const lock = JSON.parse(readFileSync(new URL('../../package-lock.json', import.meta.url), 'utf8')) as {
  packages: Record<string, Locked>
}
const packages = Object.entries(lock.packages).filter(([path]) => path !== '')

it('every locked package has a version and a SHA-512, and comes from no host of its own', () => {
  expect(packages.length).toBeGreaterThan(100)
  for (const [path, { version, resolved, integrity, link }] of packages) {
    expect([path, version]).toEqual([path, expect.stringMatching(/^\d+\.\d+\.\d+/)])
    expect([path, integrity]).toEqual([path, expect.stringMatching(/^sha512-[A-Za-z0-9+/]{86}==$/)])
    expect([path, link]).toEqual([path, undefined])
    // Without an address npm asks the registry of whoever installs, and the hash still holds.
    if (resolved !== undefined) expect(resolved, path).toMatch(/^https:\/\/registry\.npmjs\.org\//)
  }
})

it('no other package runs a program when it is installed than those that are allowed to', () => {
  const manifest = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8')) as {
    allowScripts: Record<string, boolean>
  }
  const running = packages.filter(([, { hasInstallScript }]) => hasInstallScript)
  const names = running.map(([path]) =>
    path.slice(path.lastIndexOf('node_modules/') + 'node_modules/'.length),
  )
  // Of macOS alone: it watches files for vite while somebody develops there.
  const elsewhere = new Set(['fsevents'])
  expect(new Set(names.filter((name) => !elsewhere.has(name)))).toEqual(
    new Set(Object.keys(manifest.allowScripts)),
  )
})
