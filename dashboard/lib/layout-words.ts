const NAMES: Readonly<Record<string, string>> = {
  '': 'The layout',
  id: 'Identifier',
  name: 'Name',
  note: 'Note',
  service: 'Service',
  characteristic: 'Characteristic that notifies',
  'match.namePrefix': "The sensor's name",
  byteOrder: 'Byte order',
  minBytes: 'Shortest packet',
  'header.constant': 'Constant',
  'header.counter': 'Counter',
  'header.deviceTime': 'Time',
  'header.flags': 'Flags',
  'header.sampleCount': 'Number of samples',
  'samples.offset': 'First byte of the first sample',
  'samples.strideBytes': 'Bytes from one sample to the next',
  'samples.count': 'How many samples',
  samples: 'Samples',
  channels: 'Channels',
  accUnit: 'Unit of the acceleration',
  gyrUnit: 'Unit of the angular rate',
  nominalRateHz: 'Samples a second',
  rangeMs2: 'Largest reading',
  resolutionMs2: 'Smallest step',
  sign: 'At rest',
  mount: 'How it sits on the dog',
}

/** What a field of a layout is called on the screen. */
export function plainPath(path: string): string {
  if (NAMES[path]) return NAMES[path]
  const channel = path.match(/^channels\[(\d)\]/)
  if (channel) return `Channel ${Number(channel[1]) + 1}`
  if (path.startsWith('start')) return 'To start'
  if (path.startsWith('stop')) return 'To stop'
  const group = Object.keys(NAMES).find((name) => name !== '' && path.startsWith(`${name}.`))
  return group ? NAMES[group] : path
}

/** A message with the names of fields as the screen has them. */
export function plainMessage(message: string): string {
  return message
    .replace(/channels\[(\d)\]/g, (_, i) => `channel ${Number(i) + 1}`)
    .replace(/header\.(\w+)/g, (whole) => NAMES[whole]?.toLowerCase() ?? whole)
    .replace(/samples\.(\w+)/g, (whole) => NAMES[whole]?.toLowerCase() ?? whole)
}
