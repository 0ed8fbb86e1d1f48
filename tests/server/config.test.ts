import { describe, expect, it } from 'vitest'
import { loadConfig } from '#server/config'

const load = (env: Record<string, string>, platform = 'linux') =>
  loadConfig({ env, platform, homeDir: '/home/rowan' })

describe('loadConfig', () => {
  it('listens on loopback port 4173 by default', () => {
    expect(load({})).toMatchObject({ host: '127.0.0.1', port: 4173, logLevel: 'warn' })
  })

  it.each(['http', '-1', '65536', '1.5'])('refuses PORT=%s and says what a port is', (PORT) => {
    expect(() => load({ PORT })).toThrow(`PORT=${PORT} is not a port`)
  })

  it('refuses an unknown LOG_LEVEL and an origin that is not loopback', () => {
    expect(() => load({ LOG_LEVEL: 'loud' })).toThrow('LOG_LEVEL=loud is not known')
    expect(() => load({ SWAYBOOK_ORIGINS: 'http://example.org' })).toThrow('http://example.org')
    expect(load({ SWAYBOOK_ORIGINS: 'http://localhost:5173' }).origins).toEqual(['http://localhost:5173'])
  })

  // Folders: XDG Base Directory Specification 0.8; the platforms' own guidelines (common practice).
  it.each([
    ['linux', {}, '/home/rowan/.local/share/swaybook'],
    ['linux', { XDG_DATA_HOME: '/data' }, '/data/swaybook'],
    ['darwin', {}, '/home/rowan/Library/Application Support/swaybook'],
    ['win32', { APPDATA: '/AppData' }, '/AppData/swaybook'],
    ['linux', { SWAYBOOK_DATA: '/srv/dogs' }, '/srv/dogs'],
  ])('keeps data where %s with %j wants it', (platform, env, dir) => {
    expect(load(env, platform).dataDir).toBe(dir)
  })
})
