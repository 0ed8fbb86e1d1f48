import { buffer } from 'node:stream/consumers'
import { describe, expect, it } from 'vitest'
import { ZipFile } from 'yazl'
import { refusal } from './staged.ts'

/** Signatures and offsets of APPNOTE.TXT 6.3.10: 4.3.7 local header, 4.3.12 central record, 4.3.14 to 4.3.16 ends. */
const CENTRAL = 'PK\x01\x02'
const END = 'PK\x05\x06'
const END_64 = 'PK\x06\x06'
const LOCATOR_64 = 'PK\x06\x07'

async function packed(names: readonly string[], forceZip64Format = false): Promise<Buffer> {
  const zip = new ZipFile()
  for (const name of names) zip.addBuffer(Buffer.from(`{"name":"${name}"}`), name, { forceZip64Format })
  zip.end({ forceZip64Format, comment: '' })
  return buffer(zip.outputStream)
}

const at = (zip: Buffer, signature: string, nth = 0) => {
  let found = -1
  for (let k = 0; k <= nth; k++) found = zip.indexOf(signature, found + 1, 'latin1')
  expect(found).toBeGreaterThanOrEqual(0)
  return found
}

/** From a central record to its sizes of 64 bits: the fixed part, the name, a time stamp of 9 bytes, tag and length. */
const ZIP64 = 46 + 'manifest.json'.length + 9 + 4

const NAMES = ['manifest.json', 'dog.json', 'plans.json']

/** Every way a ZIP can lie about itself: refused in words, by a code of ours. */
const LIES: readonly (readonly [string, string, (zip: Buffer) => void])[] = [
  ['more files than it lists', 'ARCHIVE_DAMAGED', (zip) => void zip.writeUInt16LE(9, at(zip, END) + 10)],
  ['fewer files than it lists', 'ARCHIVE_NOT_OURS', (zip) => void zip.writeUInt16LE(0, at(zip, END) + 10)],
  [
    'a list beyond its end',
    'ARCHIVE_DAMAGED',
    (zip) => void zip.writeUInt32LE(zip.length + 10, at(zip, END) + 16),
  ],
  ['a list that begins elsewhere', 'ARCHIVE_DAMAGED', (zip) => void zip.writeUInt32LE(3, at(zip, END) + 16)],
  ['a second disk', 'ARCHIVE_NOT_ZIP', (zip) => void zip.writeUInt16LE(1, at(zip, END) + 4)],
  [
    'a comment that is longer than the rest',
    'ARCHIVE_NOT_ZIP',
    (zip) => void zip.writeUInt16LE(500, at(zip, END) + 20),
  ],
  [
    'a name longer than its record',
    'ARCHIVE_DAMAGED',
    (zip) => void zip.writeUInt16LE(120, at(zip, CENTRAL) + 28),
  ],
  [
    'two names for the same bytes',
    'ARCHIVE_DAMAGED',
    (zip) => void zip.writeUInt32LE(0, at(zip, CENTRAL, 1) + 42),
  ],
  [
    'bytes that reach into the next file',
    'ARCHIVE_DAMAGED',
    (zip) => void zip.writeUInt32LE(200, at(zip, CENTRAL) + 20),
  ],
  [
    'a file that lies beyond its end',
    'ARCHIVE_DAMAGED',
    (zip) => void zip.writeUInt32LE(0x7fffffff, at(zip, CENTRAL) + 42),
  ],
  ['a packing nobody has', 'ARCHIVE_DAMAGED', (zip) => void zip.writeUInt16LE(99, at(zip, CENTRAL) + 10)],
  [
    'a file of two gigabytes',
    'ARCHIVE_TOO_LARGE',
    (zip) => void zip.writeUInt32LE(0x7fffffff, at(zip, CENTRAL) + 24),
  ],
]

/** The same with the fields of 64 bits. */
const LIES_64: readonly (readonly [string, string, (zip: Buffer) => void])[] = [
  [
    'a file of an exabyte',
    'ARCHIVE_TOO_LARGE',
    (zip) => void zip.writeBigUInt64LE(1n << 60n, at(zip, CENTRAL) + ZIP64),
  ],
  [
    'a file of four terabytes',
    'ARCHIVE_TOO_LARGE',
    (zip) => void zip.writeBigUInt64LE(1n << 42n, at(zip, CENTRAL) + ZIP64),
  ],
  [
    'a place beyond all numbers',
    'ARCHIVE_DAMAGED',
    (zip) => void zip.writeBigUInt64LE(~0n & ((1n << 64n) - 1n), at(zip, CENTRAL) + ZIP64 + 16),
  ],
  [
    'more files than can be counted',
    'ARCHIVE_TOO_LARGE',
    (zip) => void zip.writeBigUInt64LE(1n << 50n, at(zip, END_64) + 32),
  ],
  [
    'a list beyond all numbers',
    'ARCHIVE_DAMAGED',
    (zip) => void zip.writeBigUInt64LE(1n << 63n, at(zip, END_64) + 48),
  ],
  [
    'an end that lies elsewhere',
    'ARCHIVE_NOT_ZIP',
    (zip) => void zip.writeBigUInt64LE(1n << 40n, at(zip, LOCATOR_64) + 8),
  ],
]

describe('a ZIP that claims', () => {
  it.each(LIES)('%s is refused', async (_, code, lie) => {
    const zip = await packed(NAMES)
    lie(zip)
    expect(await refusal(zip)).toMatchObject({ name: 'ArchiveError', code })
  })

  it.each(LIES_64)('%s in 64 bits is refused', async (_, code, lie) => {
    const zip = await packed(NAMES, true)
    expect(await refusal(zip)).toMatchObject({ code: 'ARCHIVE_NOT_OURS' })
    lie(zip)
    expect(await refusal(zip)).toMatchObject({ name: 'ArchiveError', code })
  })
})

it('a name in other letters is another file, which no archive of ours has', async () => {
  for (const name of ['DOG.json', 'Manifest.json', 'manifest.json.', 'manifest.json ', 'MANIFEST~1']) {
    const error = await refusal(await packed([...NAMES, name]))
    expect(error).toMatchObject({ name: 'ArchiveError' })
  }
})

it('a bomb of files in each other is refused before anything is unpacked', async () => {
  // One kernel of a megabyte of zeros, listed a thousand times.
  const zip = new ZipFile()
  zip.addBuffer(Buffer.alloc(1024 ** 2), 'manifest.json')
  zip.end()
  const one = await buffer(zip.outputStream)
  const start = at(one, CENTRAL)
  const record = one.subarray(start, at(one, END))
  const records = Array.from({ length: 1000 }, (_, k) => {
    const copy = Buffer.from(record)
    copy.write(`manifest.${String(k).padStart(4, '0')}`, 46, 'latin1')
    return copy
  })
  const end = Buffer.from(one.subarray(at(one, END)))
  end.writeUInt16LE(1000, 8)
  end.writeUInt16LE(1000, 10)
  end.writeUInt32LE(1000 * record.length, 12)
  const bomb = Buffer.concat([one.subarray(0, start), ...records, end])
  expect(bomb.length).toBeLessThan(100_000)
  expect(await refusal(bomb)).toMatchObject({
    code: 'ARCHIVE_DAMAGED',
    message: expect.stringContaining('overlap'),
  })
})
