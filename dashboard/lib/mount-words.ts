/** Directions a sensor axis can point to, as the server names them, and in plain words. */
export const MOUNT_DIRECTIONS: readonly { value: string; words: string; axis: number }[] = [
  { value: 'cranial', words: 'the head', axis: 0 },
  { value: 'caudal', words: 'the tail', axis: 0 },
  { value: 'left', words: "the dog's left", axis: 1 },
  { value: 'right', words: "the dog's right", axis: 1 },
  { value: 'dorsal', words: 'up, away from the back', axis: 2 },
  { value: 'ventral', words: 'down, to the belly', axis: 2 },
]

const axisOf = (value: string) => MOUNT_DIRECTIONS.find((direction) => direction.value === value)?.axis

/**
 * The mount the server understands, `x=cranial,z=dorsal`; empty when nothing is said; null when
 * only one axis is said or both lie on one line, which leaves the sensor free to turn.
 */
export function mountOf(x: string, z: string): string | null {
  if (x === '' && z === '') return ''
  if (x === '' || z === '' || axisOf(x) === axisOf(z)) return null
  return `x=${x},z=${z}`
}

/** The axes of a mount as the server keeps it, for the form; empty where it says nothing of an axis. */
export function mountAxes(mount: string): { x: string; z: string } {
  const said = new Map(
    mount.split(',').map((part) => part.split('=').map((word) => word.trim()) as [string, string]),
  )
  return { x: said.get('x') ?? '', z: said.get('z') ?? '' }
}
