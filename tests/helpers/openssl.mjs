import { spawnSync } from 'node:child_process'

/** Whether certificates can be made here. */
export function hasOpenssl() {
  return spawnSync('openssl', ['version']).status === 0
}
