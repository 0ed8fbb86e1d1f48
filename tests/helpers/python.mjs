import { spawnSync } from 'node:child_process'

/**
 * A python3 that has SciPy, or null: the one of SWAYBOOK_PYTHON, the first on the path, or the
 * system's own, which is where distributions put their SciPy when another python comes first.
 */
export function pythonWithScipy() {
  const candidates = [process.env.SWAYBOOK_PYTHON, 'python3', '/usr/bin/python3']
  return (
    candidates.find(
      (python) =>
        python && spawnSync(python, ['-c', 'import numpy, scipy.signal'], { stdio: 'ignore' }).status === 0,
    ) ?? null
  )
}
