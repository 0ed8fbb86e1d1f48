import { svelte } from '@sveltejs/vite-plugin-svelte'
import { defaultClientConditions, defaultServerConditions } from 'vite'
import { defineConfig } from 'vitest/config'

const browserTests = 'tests/browser/**/*.test.ts'
const dashboardTests = 'tests/dashboard/**/*.test.ts'

export default defineConfig({
  test: {
    projects: [
      {
        resolve: { conditions: ['source', ...defaultServerConditions] },
        ssr: { resolve: { conditions: ['source', ...defaultServerConditions] } },
        test: {
          name: 'node',
          environment: 'node',
          include: ['tests/**/*.test.ts'],
          exclude: [browserTests, dashboardTests],
          testTimeout: 30_000,
          // Closing an app waits for the analyses it began.
          hookTimeout: 60_000,
        },
      },
      {
        plugins: [svelte()],
        // The browser build of svelte is wanted here only: server tests must not load it.
        resolve: { conditions: ['source', ...defaultClientConditions] },
        test: {
          name: 'dashboard',
          environment: 'happy-dom',
          include: [dashboardTests],
        },
      },
      {
        resolve: { conditions: ['source', ...defaultServerConditions] },
        ssr: { resolve: { conditions: ['source', ...defaultServerConditions] } },
        test: {
          name: 'browser',
          environment: 'node',
          include: [browserTests],
          testTimeout: 120_000,
          hookTimeout: 120_000,
          // One Chromium at a time: two at once starve each other on a small machine.
          fileParallelism: false,
        },
      },
    ],
  },
})
