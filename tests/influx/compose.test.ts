import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { expect, it } from 'vitest'
import { loadInfluxSettings } from '#server/store/influx/load-settings'

const ROOT = new URL('../../', import.meta.url)
const read = (name: string) => readFileSync(fileURLToPath(new URL(name, ROOT)), 'utf8')
const compose = read('docker-compose.yml')

/** There is no Docker engine in the tests: only what can be read from the file is checked. */
it('the compose file holds no secret and names every setting the example has', () => {
  const asked = new Set([...compose.matchAll(/\$\{(\w+)/g)].map(([, name]) => name))
  const example = [...read('.env.example').matchAll(/^(\w+)=(.*)$/gm)].map(([, name, value]) => ({
    name,
    value,
  }))
  expect([...asked].sort()).toEqual(example.map(({ name }) => name).sort())
  for (const { name, value } of example) {
    if (!/TOKEN|PASSWORD/.test(name)) continue
    expect(value, name).toBe('')
    // Compose ends when one that is asked for so is missing (Compose specification, "Interpolation").
    const uses = compose.split('\n').filter((line) => line.includes(`\${${name}`))
    expect(
      uses.every((line) => line.includes(`\${${name}:?`)),
      name,
    ).toBe(true)
  }
  expect(read('.gitignore').split('\n')).toContain('.env')
  expect(read('.dockerignore').split('\n')).toContain('.env')
})

it('the settings the compose file gives Swaybook are those it takes', () => {
  const block = compose.slice(compose.indexOf('  swaybook:'))
  const env = Object.fromEntries(
    [...block.matchAll(/^ {6}(INFLUX_\w+): (.*)$/gm)].map(([, name, value]) => [
      name,
      value.replace(/\$\{\w+:-([^}]*)\}/g, '$1').replace(/\$\{\w+:\?[^}]*\}/g, 'secret'),
    ]),
  )
  expect(loadInfluxSettings(env)).toMatchObject({
    url: 'http://127.0.0.1:8086',
    target: { api: 'v2', org: 'home', bucket: 'swaybook', token: 'secret' },
  })
})
