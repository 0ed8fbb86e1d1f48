import { COUNTING_TYPES, FIELD_TYPES, TIME_TYPES } from './field-type.ts'
import type { SchemaNode } from './schema-node.ts'
import { UUID_PATTERN } from './uuid.ts'

const MAX_BYTES = 512

const byteOrder: SchemaNode = {
  enum: ['little', 'big'],
  description: '"little" (least significant byte first) or "big"',
}
const offset: SchemaNode = {
  type: 'integer',
  minimum: 0,
  maximum: MAX_BYTES - 1,
  description: 'the number of bytes before it, 0 to 511',
}
const countingType: SchemaNode = {
  enum: COUNTING_TYPES,
  description: `a type that counts: ${COUNTING_TYPES.join(', ')}`,
}
const modulo: SchemaNode = {
  type: 'integer',
  minimum: 2,
  maximum: 2 ** 32,
  description: 'the whole number at which it begins again at 0, such as 65536',
}
const refersTo: SchemaNode = {
  enum: ['first', 'last'],
  description: '"first" or "last": the sample of the packet that it belongs to',
}
const bit: SchemaNode = {
  type: 'integer',
  minimum: 0,
  maximum: 31,
  description: 'the number of the bit, 0 for the least significant',
}
const uuid: SchemaNode = {
  type: 'string',
  pattern: UUID_PATTERN,
  description: 'a UUID like 9aa2d487-489c-4459-82e8-4716bac6e8ef, or an assigned number like 0x2C1E',
}
const writes: SchemaNode = {
  type: 'array',
  maxItems: 16,
  description: 'a list of writes, each with characteristic and bytesHex',
  items: {
    type: 'object',
    additionalProperties: false,
    required: ['characteristic', 'bytesHex'],
    description: 'an object with characteristic and bytesHex',
    properties: {
      characteristic: uuid,
      bytesHex: {
        type: 'string',
        pattern: '^(?:[0-9a-fA-F]{2})+$',
        maxLength: 2 * MAX_BYTES,
        description: 'two hex digits for each byte and nothing between, such as 0164',
      },
    },
  },
}

const field = { offset, type: countingType, byteOrder }

function record(
  description: string,
  required: readonly string[],
  properties: Readonly<Record<string, SchemaNode>>,
): SchemaNode {
  return { type: 'object', additionalProperties: false, description, required, properties }
}

function positive(description: string): SchemaNode {
  return { type: 'number', exclusiveMinimum: 0, description }
}

const header = record('an object with any of constant, counter, deviceTime, flags, sampleCount', [], {
  constant: record('offset, type and value', ['offset', 'type', 'value'], {
    ...field,
    value: {
      type: 'integer',
      minimum: 0,
      maximum: 2 ** 32 - 1,
      description: 'the whole number it always holds',
    },
  }),
  counter: record('offset, type and counts', ['offset', 'type', 'counts'], {
    ...field,
    counts: {
      enum: ['packets', 'samples'],
      description: '"packets" or "samples": what makes it go up by one',
    },
    refersTo,
    modulo,
  }),
  deviceTime: record('offset, type, unitS and refersTo', ['offset', 'type', 'unitS', 'refersTo'], {
    offset,
    type: { enum: TIME_TYPES, description: `one of ${TIME_TYPES.join(', ')}` },
    byteOrder,
    unitS: positive('the seconds of one count, such as 0.001 for milliseconds'),
    refersTo,
    modulo,
  }),
  flags: record('offset and type', ['offset', 'type'], { ...field, batteryLowBit: bit, clippedBit: bit }),
  sampleCount: record('offset and type', ['offset', 'type'], field),
})

const samples = record('offset, strideBytes and count', ['offset', 'strideBytes', 'count'], {
  offset,
  strideBytes: {
    type: 'integer',
    minimum: 1,
    maximum: MAX_BYTES,
    description: 'the bytes from one sample to the next, 1 to 512',
  },
  count: {
    description: 'a whole number from 1, "fill", or {"field": "sampleCount"}',
    anyOf: [
      { type: 'integer', minimum: 1, maximum: MAX_BYTES },
      { const: 'fill' },
      record('{"field": "sampleCount"}', ['field'], { field: { const: 'sampleCount' } }),
    ],
  },
})

const channel = record(
  'quantity, axis, offset, type and scale',
  ['quantity', 'axis', 'offset', 'type', 'scale'],
  {
    quantity: {
      enum: ['acceleration', 'angular rate'],
      description: '"acceleration" or "angular rate"',
    },
    axis: { enum: ['x', 'y', 'z'], description: '"x", "y" or "z"' },
    offset,
    type: { enum: FIELD_TYPES, description: `one of ${FIELD_TYPES.join(', ')}` },
    byteOrder,
    scale: { type: 'number', description: 'a number other than 0: what one count is worth in the unit' },
    bias: { type: 'number', description: 'a number in the unit, added after scaling' },
    invalid: { type: 'number', description: 'the raw value that stands for "no reading"' },
  },
)

/** JSON Schema of a packet layout: its structure. What the parts must be to one another is in `layoutProblems`. */
export const PACKET_LAYOUT_SCHEMA = {
  $schema: 'https://json-schema.org/draft/2020-12/schema',
  title: 'Packet layout of a Bluetooth motion sensor',
  ...record(
    'an object: a packet layout',
    [
      'format',
      'id',
      'version',
      'name',
      'service',
      'characteristic',
      'byteOrder',
      'samples',
      'channels',
      'accUnit',
      'nominalRateHz',
      'sign',
    ],
    {
      format: { const: 1, description: '1, the version of this way of writing layouts' },
      id: {
        type: 'string',
        pattern: '^[a-z0-9][a-z0-9-]{0,63}$',
        description: 'lower-case letters, digits and hyphens, 64 at most',
      },
      version: { type: 'integer', minimum: 1, maximum: 1e6, description: 'a whole number from 1' },
      name: { type: 'string', minLength: 1, maxLength: 80, description: 'a name of 1 to 80 characters' },
      note: { type: 'string', maxLength: 1000, description: 'text of up to 1000 characters' },
      service: uuid,
      characteristic: uuid,
      match: record('an object with namePrefix', [], {
        namePrefix: {
          type: 'string',
          minLength: 1,
          maxLength: 248,
          description: 'how the names of these sensors begin, 1 to 248 characters',
        },
      }),
      start: writes,
      stop: writes,
      byteOrder,
      minBytes: {
        type: 'integer',
        minimum: 1,
        maximum: MAX_BYTES,
        description: 'the bytes of the shortest packet, 1 to 512',
      },
      header,
      samples,
      channels: {
        type: 'array',
        minItems: 3,
        maxItems: 6,
        items: channel,
        description: 'a list of 3 channels of acceleration, or of 3 and 3 of angular rate',
      },
      accUnit: { enum: ['m/s2', 'g', 'mg'], description: '"m/s2", "g" or "mg"' },
      gyrUnit: { enum: ['rad/s', 'deg/s'], description: '"rad/s" or "deg/s"' },
      nominalRateHz: {
        type: 'number',
        exclusiveMinimum: 0,
        maximum: 4000,
        description: 'the samples per second, above 0, at most 4000',
      },
      rangeMs2: positive('the largest reading in m/s², above 0, such as 78.4532 for ±8 g'),
      resolutionMs2: positive('the smallest step in m/s², above 0'),
      sign: {
        enum: ['specific-force', 'gravity'],
        description: '"specific-force" (+1 g on the axis that points up at rest) or "gravity" (−1 g)',
      },
      mount: { type: 'string', maxLength: 80, description: 'text such as x=cranial,y=left,z=dorsal' },
    },
  ),
} as const satisfies SchemaNode & { $schema: string; title: string }
