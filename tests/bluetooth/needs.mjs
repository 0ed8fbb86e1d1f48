import { spawnSync } from 'node:child_process'

/** A python3 with the D-Bus bindings (Debian: python3-dbus, python3-gi), or null. */
export function pythonWithDbus() {
  const candidates = [process.env.SWAYBOOK_PYTHON, 'python3', '/usr/bin/python3']
  return (
    candidates.find(
      (python) =>
        python &&
        spawnSync(python, ['-c', 'import dbus.service; from gi.repository import GLib'], { stdio: 'ignore' })
          .status === 0,
    ) ?? null
  )
}

/** The message bus itself (Debian: dbus-daemon, which the package dbus brings). */
export function hasDbusDaemon() {
  return spawnSync('dbus-daemon', ['--version'], { stdio: 'ignore' }).status === 0
}
