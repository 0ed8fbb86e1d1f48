import type { Channel, PacketLayout } from './layout.ts'

/**
 * The generic IMU layout, version 1: what firmware can implement so that its sensor works here without
 * anything to set up. README.md has the bytes, worked examples and the reasons.
 */

const SERVICE = '9aa2d487-489c-4459-82e8-4716bac6e8ef'

/** ±8 g over 16 bits: 1/4096 g a count, exact in decimal and in binary. */
const ACC_G_PER_COUNT = 0.000244140625
const RANGE_MS2 = 78.4532
/** ±512 °/s over 16 bits: 1/64 °/s a count. */
const GYR_DEG_S_PER_COUNT = 0.015625
const NO_READING = -32768

function channels(quantity: Channel['quantity'], offset: number, scale: number): Channel[] {
  return (['x', 'y', 'z'] as const).map((axis, i) => ({
    quantity,
    axis,
    offset: offset + 2 * i,
    type: 'i16',
    scale,
    invalid: NO_READING,
  }))
}

const acceleration = channels('acceleration', 0, ACC_G_PER_COUNT)

const common = {
  format: 1,
  version: 1,
  service: SERVICE,
  byteOrder: 'little',
  accUnit: 'g',
  nominalRateHz: 100,
  rangeMs2: RANGE_MS2,
  sign: 'specific-force',
} as const

/** 12 bytes of header, alike in both: format, flags, count, a spare byte, counter, device time. */
function header(format: number) {
  return {
    constant: { offset: 0, type: 'u8', value: format },
    flags: { offset: 1, type: 'u8', batteryLowBit: 0, clippedBit: 1 },
    sampleCount: { offset: 2, type: 'u8' },
    counter: { offset: 4, type: 'u32', counts: 'samples', refersTo: 'first' },
    deviceTime: { offset: 8, type: 'u32', unitS: 1e-6, refersTo: 'first' },
  } as const
}

/** Acceleration, 6 bytes a sample; needs an MTU above 23. */
export const GENERIC_IMU: PacketLayout = {
  ...common,
  id: 'generic-imu-acc',
  name: 'Generic IMU layout v1: acceleration',
  characteristic: 'af196dda-af86-4760-be20-e814cff2c2c7',
  header: header(0x13),
  samples: { offset: 12, strideBytes: 6, count: { field: 'sampleCount' } },
  channels: acceleration,
}

/** Acceleration and angular rate, 12 bytes a sample; needs an MTU above 23. */
export const GENERIC_IMU_GYRO: PacketLayout = {
  ...common,
  id: 'generic-imu-acc-gyro',
  name: 'Generic IMU layout v1: acceleration and gyroscope',
  characteristic: '63033521-db31-4778-b899-ece79f6c8e43',
  header: header(0x16),
  samples: { offset: 12, strideBytes: 12, count: { field: 'sampleCount' } },
  channels: [...acceleration, ...channels('angular rate', 6, GYR_DEG_S_PER_COUNT)],
  gyrUnit: 'deg/s',
}

/** Acceleration for the least MTU of 23: a counter of 16 bits and up to three samples in 20 bytes. */
export const GENERIC_IMU_SHORT: PacketLayout = {
  ...common,
  id: 'generic-imu-short',
  name: 'Generic IMU layout v1: acceleration, short packets',
  characteristic: '419fca97-0a80-4e8f-92e8-b83300c251a7',
  header: { counter: { offset: 0, type: 'u16', counts: 'samples', refersTo: 'first' } },
  samples: { offset: 2, strideBytes: 6, count: 'fill' },
  channels: acceleration,
}
