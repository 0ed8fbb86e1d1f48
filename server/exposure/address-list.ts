import { BlockList, isIP } from 'node:net'

const LOOPBACK = ['127.0.0.0/8', '::1/128']
/** IPv4 as a socket that listens on both kinds shows it (RFC 4291 §2.5.5.2). */
const MAPPED = /^::ffff:(?=\d+\.\d+\.\d+\.\d+$)/i

/** Addresses and CIDR ranges, IPv4 and IPv6; `loopback` stands for those of this computer. */
export class AddressList {
  readonly #list = new BlockList()

  constructor(texts: readonly string[]) {
    for (const text of texts.flatMap((text) => (text === 'loopback' ? LOOPBACK : [text]))) {
      const [address, bits] = text.split('/')
      const family = isIP(address) === 6 ? 'ipv6' : 'ipv4'
      this.#list.addSubnet(address, Number(bits ?? (family === 'ipv6' ? 128 : 32)), family)
    }
  }

  static understands(text: string): boolean {
    if (text === 'loopback') return true
    const [address, bits, ...more] = text.split('/')
    const family = isIP(address)
    if (family === 0 || more.length > 0) return false
    if (bits === undefined) return true
    // A range of everything would trust whoever calls.
    return /^\d{1,3}$/.test(bits) && Number(bits) >= 1 && Number(bits) <= (family === 6 ? 128 : 32)
  }

  has(address: string): boolean {
    const plain = address.replace(MAPPED, '')
    const family = isIP(plain)
    return family !== 0 && this.#list.check(plain, family === 6 ? 'ipv6' : 'ipv4')
  }
}
