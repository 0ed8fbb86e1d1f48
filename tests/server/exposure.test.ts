import { describe, expect, it } from 'vitest'
import { ConfigError, loadConfig } from '#server/config'
import { AddressList } from '#server/exposure/address-list'
import { requireOwnerPassword } from '#server/exposure/owner-password'
import { ownOrigin } from '#server/exposure/own-address'

const load = (env: Record<string, string>, behindProxy = false) =>
  loadConfig({ env, platform: 'linux', homeDir: '/home/rowan', behindProxy })

const TLS = { SWAYBOOK_TLS_CERT: '/tls/cert.pem', SWAYBOOK_TLS_KEY: '/tls/key.pem' }
const PUBLIC = { SWAYBOOK_PUBLIC_URL: 'https://dogs.example' }

describe('exposure', () => {
  it('is this computer alone unless TLS or a proxy is asked for', () => {
    expect(load({})).toMatchObject({ exposure: 'this computer', host: '127.0.0.1', publicOrigins: [] })
    expect(load({ ...TLS, ...PUBLIC, HOST: '0.0.0.0' })).toMatchObject({
      exposure: 'tls',
      tlsFiles: { certFile: '/tls/cert.pem', keyFile: '/tls/key.pem' },
      publicOrigins: ['https://dogs.example'],
    })
    expect(load({ ...TLS, ...PUBLIC }).exposure).toBe('tls')
  })

  it('is behind a proxy by the option and by the environment, on loopback too', () => {
    const asked = { exposure: 'proxy', host: '127.0.0.1', proxyAddresses: ['loopback'] }
    expect(load(PUBLIC, true)).toMatchObject(asked)
    expect(load({ ...PUBLIC, SWAYBOOK_BEHIND_PROXY: '1' })).toMatchObject(asked)
    expect(load({ SWAYBOOK_BEHIND_PROXY: '0' }).exposure).toBe('this computer')
    // TLS from the proxy to here as well.
    expect(load({ ...PUBLIC, ...TLS }, true)).toMatchObject({ exposure: 'proxy', tlsFiles: {} })
  })

  it('takes several public addresses, spelled as people spell them', () => {
    const SWAYBOOK_PUBLIC_URL = 'https://Dogs.example/, https://dogs.example:443,https://10.0.0.7:4173'
    expect(load({ ...TLS, SWAYBOOK_PUBLIC_URL }).publicOrigins).toEqual([
      'https://dogs.example',
      'https://dogs.example',
      'https://10.0.0.7:4173',
    ])
  })

  it.each([
    [{ HOST: '0.0.0.0' }, /HOST=0\.0\.0\.0 would let other computers in.*SWAYBOOK_TLS_CERT.*--behind-proxy/],
    [{ HOST: '::' }, /HOST=:: would let other computers in/],
    [{ HOST: '192.168.1.20', ...PUBLIC }, /HOST=192\.168\.1\.20 would let/],
    [{ ...TLS, ...PUBLIC, HOST: 'example.org' }, /HOST=example\.org is no address/],
    [{ SWAYBOOK_TLS_CERT: '/c' }, /SWAYBOOK_TLS_KEY is not. Set both/],
    [{ SWAYBOOK_TLS_KEY: '/k' }, /SWAYBOOK_TLS_CERT is not. Set both/],
    [TLS, /SWAYBOOK_PUBLIC_URL is missing/],
    [{ SWAYBOOK_BEHIND_PROXY: '1' }, /SWAYBOOK_PUBLIC_URL is missing/],
    [{ SWAYBOOK_BEHIND_PROXY: 'yes' }, /SWAYBOOK_BEHIND_PROXY=yes is not understood/],
    [PUBLIC, /SWAYBOOK_PUBLIC_URL is for a server that others reach/],
    [{ ...TLS, SWAYBOOK_PUBLIC_URL: 'http://dogs.example' }, /holds http:\/\/dogs\.example. Use https/],
    [{ ...TLS, SWAYBOOK_PUBLIC_URL: 'https://dogs.example/app' }, /nothing after it/],
    [{ ...TLS, SWAYBOOK_PUBLIC_URL: 'https://a@dogs.example' }, /Use https:\/\/name/],
    [{ ...TLS, SWAYBOOK_PUBLIC_URL: 'dogs.example' }, /holds dogs\.example/],
    [{ ...PUBLIC, ...TLS, SWAYBOOK_PROXY_ADDRESSES: '10.0.0.1' }, /means nothing without a proxy/],
    [
      { ...PUBLIC, SWAYBOOK_BEHIND_PROXY: '1', SWAYBOOK_PROXY_ADDRESSES: 'proxy.local' },
      /holds proxy\.local/,
    ],
    [{ ...PUBLIC, SWAYBOOK_BEHIND_PROXY: '1', SWAYBOOK_PROXY_ADDRESSES: '0.0.0.0/0' }, /holds 0\.0\.0\.0\/0/],
    [{ ...TLS, ...PUBLIC, SWAYBOOK_ORIGINS: 'http://localhost:5173' }, /development on this computer alone/],
  ])('refuses %j in one line that says what to do', (env: Record<string, string>, reason) => {
    const refused = () => load(env)
    expect(refused).toThrow(ConfigError)
    expect(refused).toThrow(reason)
    try {
      refused()
    } catch (error) {
      expect((error as Error).message).not.toContain('\n')
      expect((error as Error).message).toMatch(/\b(Set|set|Use|use|Leave|leave|start)\b/)
    }
  })

  it('demands a password of the owner for everything beyond this computer', async () => {
    const without = { hasPassword: async () => false }
    await requireOwnerPassword('this computer', without)
    await expect(requireOwnerPassword('tls', without)).rejects.toThrow(/no password yet.*set a password/)
    await expect(requireOwnerPassword('proxy', without)).rejects.toThrow(ConfigError)
    await requireOwnerPassword('proxy', { hasPassword: async () => true })
  })
})

describe('addresses of a proxy', () => {
  it('are exact, ranges, IPv6 and IPv4 as a socket for both shows it', () => {
    const list = new AddressList(['loopback', '172.18.0.1', '10.1.0.0/16', 'fd00::/8'])
    for (const inside of [
      '127.0.0.1',
      '127.9.9.9',
      '::1',
      '172.18.0.1',
      '::ffff:172.18.0.1',
      '10.1.2.3',
      'fd12::1',
    ]) {
      expect(list.has(inside), inside).toBe(true)
    }
    for (const outside of [
      '172.18.0.2',
      '10.2.0.1',
      '192.168.0.1',
      'fe80::1',
      '',
      'localhost',
      '::ffff:8.8.8.8',
    ]) {
      expect(list.has(outside), outside).toBe(false)
    }
  })

  it('are checked before use', () => {
    for (const text of ['loopback', '10.0.0.1', '10.0.0.0/8', '::1', 'fd00::/8']) {
      expect(AddressList.understands(text), text).toBe(true)
    }
    for (const text of [
      '',
      '10.0.0',
      '10.0.0.0/33',
      '10.0.0.0/0',
      '::/0',
      '10.0.0.0/8/8',
      'proxy',
      '::1/x',
    ]) {
      expect(AddressList.understands(text), text).toBe(false)
    }
  })
})

describe('the own origin', () => {
  const open = { exposure: 'tls', publicOrigins: ['https://dogs.example', 'https://[fd00::7]:4173'] } as const

  it.each([
    ['dogs.example', 'https://dogs.example'],
    ['DOGS.example:443', 'https://dogs.example'],
    ['[fd00::7]:4173', 'https://[fd00::7]:4173'],
    ['dogs.example:4173', null],
    ['localhost', null],
    ['127.0.0.1', null],
    ['dogs.example.evil.example', null],
    ['evil.example/dogs.example', null],
    ['a@dogs.example', null],
    ['dogs.example#', null],
    ['', null],
  ])('for the Host %j is %j', (host, origin) => {
    expect(ownOrigin(host, open, 443)).toBe(origin)
  })
})
