import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { svelte } from '@sveltejs/vite-plugin-svelte'
import { defaultClientConditions, defineConfig } from 'vite'
import type { Plugin } from 'vite'

const here = (path: string) => fileURLToPath(new URL(path, import.meta.url))

const { version } = JSON.parse(readFileSync(here('../package.json'), 'utf8')) as { version: string }

/** Of dashboard/public, what the dashboard needs without a network. */
const PUBLIC_FILES = ['/mark.svg', '/icon-192.png', '/icon-512.png', '/manifest.webmanifest']

/** Writes into the service worker what the dashboard consists of, and a version made of it. */
function shellList(): Plugin {
  return {
    name: 'swaybook-shell-list',
    apply: 'build',
    enforce: 'post',
    generateBundle: {
      order: 'post',
      handler(_options, bundle) {
        const worker = bundle['sw.js']
        if (worker?.type !== 'chunk') return this.error('the build made no sw.js')
        if (worker.imports.length > 0)
          this.error(`sw.js must stand alone, it imports ${worker.imports.join()}`)
        const built = Object.values(bundle).filter(({ fileName }) => fileName.startsWith('assets/'))
        const page = bundle['index.html']
        if (page?.type !== 'asset') return this.error('the build made no index.html')
        const files = ['/', ...PUBLIC_FILES, ...built.map(({ fileName }) => `/${fileName}`).sort()]
        const version = createHash('sha256')
          .update(files.join())
          .update(page.source)
          .digest('hex')
          .slice(0, 12)
        worker.code = worker.code.replaceAll('__SHELL__', JSON.stringify({ version, files }))
      },
    },
  }
}

/** The browser bundle; `npm start` builds it once and serves it from dist/dashboard. */
export default defineConfig({
  root: here('.'),
  plugins: [svelte(), shellList()],
  define: { __SWAYBOOK_VERSION__: JSON.stringify(version) },
  // "source" resolves #signal/* and #protocol/* to the TypeScript files.
  resolve: { conditions: ['source', ...defaultClientConditions] },
  build: {
    outDir: here('../dist/dashboard'),
    emptyOutDir: true,
    target: 'es2022',
    rolldownOptions: {
      // Whoever starts Swaybook for the first time would read it as a fault.
      checks: { pluginTimings: false },
      input: { main: here('index.html'), sw: here('service-worker/sw.ts') },
      output: {
        // Its address must stay the same, or browsers would keep the old one.
        entryFileNames: ({ name }) => (name === 'sw' ? 'sw.js' : 'assets/[name]-[hash].js'),
      },
    },
  },
  server: { proxy: { '/api': { target: 'http://127.0.0.1:4173', ws: true } } },
})
