import { fileURLToPath } from 'node:url'
import { svelte } from '@sveltejs/vite-plugin-svelte'
import { defaultClientConditions, defineConfig } from 'vite'

/** The browser bundle; `npm start` builds it once and serves it from dist/dashboard. */
export default defineConfig({
  root: fileURLToPath(new URL('.', import.meta.url)),
  plugins: [svelte()],
  // "source" resolves #signal/* and #protocol/* to the TypeScript files.
  resolve: { conditions: ['source', ...defaultClientConditions] },
  build: {
    outDir: fileURLToPath(new URL('../dist/dashboard', import.meta.url)),
    emptyOutDir: true,
    target: 'es2022',
  },
  server: { proxy: { '/api': { target: 'http://127.0.0.1:4173', ws: true } } },
})
