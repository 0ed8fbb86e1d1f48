import { chmod, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { loadSeriesSettings } from '#server/store/influx/load-settings'
import { temporaryDir } from '../helpers/build-app.ts'

const INFLUX = { SWAYBOOK_SERIES: 'influx', INFLUX_URL: 'http://127.0.0.1:8086/' }
const V1 = { ...INFLUX, INFLUX_DATABASE: 'd' }
const V2 = { ...INFLUX, INFLUX_ORG: 'home', INFLUX_BUCKET: 'b', INFLUX_TOKEN: 'token-secret' }

describe('settings of where samples are kept', () => {
  it('is the embedded store unless said otherwise', () => {
    expect(loadSeriesSettings({})).toBeNull()
    expect(loadSeriesSettings({ SWAYBOOK_SERIES: 'sqlite' })).toBeNull()
  })

  it('takes 1.x with and without accounts, and 2.x', () => {
    const url = 'http://127.0.0.1:8086'
    expect(loadSeriesSettings(V1)).toMatchObject({ url, target: { api: 'v1', database: 'd', login: null } })
    const login = { username: 'u', password: 'p' }
    expect(loadSeriesSettings({ ...V1, INFLUX_USERNAME: 'u', INFLUX_PASSWORD: 'p' })).toMatchObject({
      target: { login },
    })
    expect(loadSeriesSettings(V2)).toMatchObject({
      target: { api: 'v2', org: 'home', token: 'token-secret' },
    })
  })

  it('takes secrets from files', async () => {
    const file = join(await temporaryDir(), 'token')
    await writeFile(file, 'from-a-file\n')
    await chmod(file, 0o600)
    expect(loadSeriesSettings({ ...V2, INFLUX_TOKEN: '', INFLUX_TOKEN_FILE: file })).toMatchObject({
      target: { token: 'from-a-file' },
    })
  })

  it.each([
    [{ SWAYBOOK_SERIES: 'postgres' }, /SWAYBOOK_SERIES=postgres is not known/],
    [{ ...INFLUX, INFLUX_URL: '' }, /INFLUX_URL is no address/],
    [{ ...V1, INFLUX_URL: 'ftp://x' }, /INFLUX_URL=ftp:\/\/x is no address/],
    [{ ...V1, INFLUX_URL: 'http://u:url-secret@h' }, /INFLUX_URL holds a user name or password/],
    [INFLUX, /INFLUX_DATABASE is missing/],
    [{ ...V1, ...V2 }, /INFLUX_DATABASE is for InfluxDB 1.x and INFLUX_ORG for 2.x/],
    [{ ...V1, INFLUX_USERNAME: 'u' }, /INFLUX_USERNAME and INFLUX_PASSWORD .* belong together/],
    [{ ...V2, INFLUX_BUCKET: '' }, /INFLUX_BUCKET is missing/],
    [{ ...V2, INFLUX_TOKEN: '' }, /INFLUX_TOKEN is missing/],
    [{ ...V2, INFLUX_TOKEN: 'token-secret\nx' }, /INFLUX_TOKEN holds a space/],
  ])('refuses %j, naming no secret', (env, message) => {
    expect(() => loadSeriesSettings(env)).toThrow(message)
    expect(() => loadSeriesSettings(env)).not.toThrow(/-secret/)
  })
})
