/**
 * The result of a piece of work and the processor time this process took for it, ms: unlike a clock on the wall it does not run while
 * other programs have the machine. For telling what grows with the square from what does not, never for speed.
 */
export function timed<T>(work: () => T): { result: T; processorMs: number } {
  const before = process.cpuUsage()
  const result = work()
  const { user, system } = process.cpuUsage(before)
  return { result, processorMs: (user + system) / 1000 }
}
