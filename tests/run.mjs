/**
 * `npm test`: gets the checkout ready, then runs every test this machine can run. What cannot run is
 * said loudly, before and after; with CI set, it is a failure.
 * Arguments are passed on: `npm test -- tests/signal` runs those files only.
 */
import { spawnSync } from 'node:child_process'
import { existsSync } from 'node:fs'
import { prepare, root } from '../server/bootstrap.mjs'
import { hasDbusDaemon, pythonWithDbus } from './bluetooth/needs.mjs'
import { hasInfluxd } from './helpers/influxd.mjs'
import { hasOpenssl } from './helpers/openssl.mjs'
import { hasPoppler } from './helpers/poppler.mjs'
import { pythonWithScipy } from './helpers/python.mjs'

const CHROMIUM_PATHS = [
  process.env.SWAYBOOK_CHROMIUM,
  '/usr/bin/chromium',
  '/usr/bin/chromium-browser',
  '/usr/bin/google-chrome',
  '/Applications/Chromium.app/Contents/MacOS/Chromium',
  '/Applications/Google Chrome.app/Contents/MacOS/Google Chrome',
]

prepare({ dashboard: true })

const chromium = CHROMIUM_PATHS.find((path) => path && existsSync(path))
const scipy = pythonWithScipy()
const missing = []
if (!chromium) {
  missing.push('browser tests: no Chromium found (install it, or set SWAYBOOK_CHROMIUM to its path)')
}
if (!scipy) {
  missing.push(
    'recomputing the SciPy vectors: no python3 with scipy (the committed vectors are still checked)',
  )
}
if (!process.env.CI && !process.env.SWAYBOOK_FHIR_PACKAGE) {
  missing.push(
    'making the FHIR schema anew: set SWAYBOOK_FHIR_PACKAGE to the unpacked hl7.fhir.r5.core 5.0.0 ' +
      '(the committed schema is still used)',
  )
}
if (!hasDbusDaemon() || !pythonWithDbus()) {
  missing.push(
    'Bluetooth in the browser: no stand-in radio without dbus-daemon and a python3 with its D-Bus bindings ' +
      '(Debian: dbus, python3-dbus, python3-gi)',
  )
}
if (!hasPoppler()) {
  missing.push(
    'reading the printed report: no pdfinfo, pdftotext, pdffonts and pdftoppm (Debian: poppler-utils)',
  )
}
if (!hasOpenssl()) {
  missing.push('serving by HTTPS: no openssl to make certificates with (Debian: openssl)')
}
if (!hasInfluxd()) {
  missing.push(
    'samples in InfluxDB: no influxd 1.x (Debian: influxdb; or set SWAYBOOK_INFLUXD to its path); the embedded ' +
      'store is tested by the same contract',
  )
}
announce()
if (missing.length > 0 && process.env.CI) {
  console.error('With CI set nothing may be left out.')
  process.exit(1)
}

const projects = ['node', 'dashboard', 'moments', ...(chromium ? ['browser'] : [])].flatMap((name) => [
  '--project',
  name,
])
const { status } = spawnSync(
  process.execPath,
  ['node_modules/vitest/vitest.mjs', 'run', ...projects, ...process.argv.slice(2)],
  { cwd: root, stdio: 'inherit', env: { ...process.env, SWAYBOOK_CHROMIUM: chromium ?? '' } },
)
announce()
process.exitCode = status ?? 1

function announce() {
  for (const what of missing) console.error(`\n*** NOT RUN: ${what} ***`)
  if (missing.length > 0) console.error('')
}
