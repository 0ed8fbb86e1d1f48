import type { PacketLayout } from './layout.ts'

/**
 * The assigned characteristic Precise Acceleration 3D (0x2C1E): three signed 16-bit values of 0.001 g. Read
 * from an implementation by others, not from the GATT Specification Supplement; the service
 * that carries it differs between sensors.
 */
export const PRECISE_ACCELERATION_3D: PacketLayout = {
  format: 1,
  id: 'precise-acceleration-3d',
  version: 1,
  name: 'Precise Acceleration 3D (0x2C1E)',
  note:
    'Layout not confirmed against the SIG document. Packets carry no counter, so lost samples go unnoticed: ' +
    'measures that need every sample say so. Duplicate it and set the service and the rate of your sensor.',
  service: '0000185a-0000-1000-8000-00805f9b34fb',
  characteristic: '00002c1e-0000-1000-8000-00805f9b34fb',
  byteOrder: 'little',
  samples: { offset: 0, strideBytes: 6, count: 1 },
  channels: [
    { quantity: 'acceleration', axis: 'x', offset: 0, type: 'i16', scale: 0.001 },
    { quantity: 'acceleration', axis: 'y', offset: 2, type: 'i16', scale: 0.001 },
    { quantity: 'acceleration', axis: 'z', offset: 4, type: 'i16', scale: 0.001 },
  ],
  accUnit: 'g',
  nominalRateHz: 50,
  sign: 'specific-force',
}
