import { execFileSync, spawnSync } from 'node:child_process'
import { appendFileSync, mkdirSync, rmSync, statfsSync } from 'node:fs'
import { join } from 'node:path'
import { onTestFinished } from 'vitest'

/** A data folder whose disk can be filled and emptied while a server uses it. */
export interface SmallDisk {
  readonly dataFolder: string
  fill(serverPid: number): void
  empty(serverPid: number): void
}

/** A tmpfs of 24 MB, filled by a file: ENOSPC. Needs the right to mount. */
export function tmpfsDisk(dir: string): SmallDisk | null {
  const disk = join(dir, 'disk')
  mkdirSync(disk)
  if (spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=24m', 'tmpfs', disk]).status !== 0) return null
  onTestFinished(() => void spawnSync('umount', ['-l', disk]))
  const dataFolder = join(disk, 'data')
  const ballast = join(disk, 'ballast')
  return {
    dataFolder,
    fill() {
      // A little is left, so that it is a transaction that does not fit and not its first page.
      // In pieces: the server goes on writing meanwhile.
      while (free(disk) > 300_000) appendFileSync(ballast, new Uint8Array(100_000))
    },
    empty: () => rmSync(ballast),
  }
}

function free(folder: string): number {
  const { bavail, bsize } = statfsSync(folder)
  return bavail * bsize
}

/** A limit on the size of the server's files: EFBIG, for any account. Linux with util-linux only. */
export function limitedFiles(dir: string): SmallDisk | null {
  if (process.platform !== 'linux' || spawnSync('prlimit', ['--version']).status !== 0) return null
  const limit = (pid: number, bytes: string) =>
    execFileSync('prlimit', ['--pid', String(pid), `--fsize=${bytes}:`])
  return {
    dataFolder: join(dir, 'data'),
    fill: (pid) => void limit(pid, '200000'),
    empty: (pid) => void limit(pid, 'unlimited'),
  }
}
