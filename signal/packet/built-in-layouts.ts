import { GENERIC_IMU, GENERIC_IMU_GYRO, GENERIC_IMU_SHORT } from './generic-layout.ts'
import type { PacketLayout } from './layout.ts'
import { PRECISE_ACCELERATION_3D } from './precise-acceleration-3d.ts'

/** The layouts that come with the program, in the order to offer them. */
export const BUILT_IN_LAYOUTS: readonly PacketLayout[] = [
  GENERIC_IMU,
  GENERIC_IMU_GYRO,
  GENERIC_IMU_SHORT,
  PRECISE_ACCELERATION_3D,
]
