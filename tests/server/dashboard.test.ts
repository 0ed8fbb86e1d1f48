import { mkdir, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { temporaryDir, testApp } from '../helpers/build-app.ts'

async function builtDashboard(): Promise<string> {
  const dir = await temporaryDir()
  await mkdir(join(dir, 'assets'))
  await writeFile(join(dir, 'index.html'), '<!doctype html><title>Swaybook</title>')
  await writeFile(join(dir, 'assets', 'index-4f3c.js'), 'export {}')
  await writeFile(join(dir, 'sw.js'), 'self')
  await writeFile(join(dir, 'manifest.webmanifest'), '{}')
  return dir
}

const html = { accept: 'text/html,*/*' }

it('serves index.html at / and at every address of its own, never cached', async () => {
  const app = await testApp({ dashboardDir: await builtDashboard() })
  for (const url of ['/', '/dogs/abc', '/sessions/abc?tab=holds']) {
    const response = await app.inject({ url, headers: html })
    expect([url, response.statusCode, response.headers['cache-control']]).toEqual([url, 200, 'no-cache'])
    expect(response.body).toContain('<title>Swaybook</title>')
  }
})

it('lets browsers keep hashed assets for good', async () => {
  const app = await testApp({ dashboardDir: await builtDashboard() })
  const response = await app.inject('/assets/index-4f3c.js')
  expect(response.statusCode).toBe(200)
  expect(response.headers['cache-control']).toBe('public, max-age=31536000, immutable')
})

it('lets no browser keep the service worker, and lets pages use it and the manifest', async () => {
  const app = await testApp({ dashboardDir: await builtDashboard() })
  const worker = await app.inject('/sw.js')
  expect(worker.headers['cache-control']).toBe('no-cache')
  expect(worker.headers['content-type']).toMatch(/javascript/)
  expect(worker.headers['content-security-policy']).toContain("worker-src 'self'")
  expect(worker.headers['content-security-policy']).toContain("manifest-src 'self'")
  const manifest = await app.inject('/manifest.webmanifest')
  expect(manifest.headers['content-type']).toMatch(/application\/manifest\+json/)
})

it('answers 404 as a problem for unknown API addresses and files', async () => {
  const app = await testApp({ dashboardDir: await builtDashboard() })
  for (const request of [{ url: '/api/nothing', headers: html }, { url: '/assets/gone.js' }]) {
    const response = await app.inject(request)
    expect(response.statusCode).toBe(404)
    expect(response.json()).toMatchObject({ code: 'NOT_FOUND' })
  }
})

it('serves nothing outside its folder', async () => {
  const app = await testApp({ dashboardDir: join(await builtDashboard(), 'assets') })
  for (const url of ['/../index.html', '/..%2findex.html', '/%2e%2e/index.html']) {
    expect((await app.inject(url)).statusCode, url).toBe(404)
  }
})
