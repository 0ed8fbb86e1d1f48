import { availableParallelism } from 'node:os'
import { svelte } from '@sveltejs/vite-plugin-svelte'
import { defaultClientConditions, defaultServerConditions } from 'vite'
import { defineConfig } from 'vitest/config'

const browserTests = 'tests/browser/**/*.test.ts'
const dashboardTests = 'tests/dashboard/**/*.test.ts'
/** What watches a server or a sender from moment to moment: another test on the same core would disturb it. */
const momentTests = [
  'tests/faults/**/*.test.ts',
  'tests/operations/**/*.test.ts',
  'tests/influx/outage.test.ts',
  'tests/server/live-*.test.ts',
]
const nodeProject = {
  environment: 'node' as const,
  testTimeout: 30_000,
  // Closing an app waits for the analyses it began.
  hookTimeout: 60_000,
}
// Without this, two cores run one file at a time.
const maxWorkers = Math.max(2, availableParallelism() - 1)

export default defineConfig({
  test: {
    projects: [
      {
        resolve: { conditions: ['source', ...defaultServerConditions] },
        ssr: { resolve: { conditions: ['source', ...defaultServerConditions] } },
        test: {
          ...nodeProject,
          name: 'node',
          include: ['tests/**/*.test.ts'],
          exclude: [browserTests, dashboardTests, ...momentTests],
          maxWorkers,
          sequence: { groupOrder: 0 },
        },
      },
      {
        resolve: { conditions: ['source', ...defaultServerConditions] },
        ssr: { resolve: { conditions: ['source', ...defaultServerConditions] } },
        test: {
          ...nodeProject,
          name: 'moments',
          include: momentTests,
          fileParallelism: false,
          sequence: { groupOrder: 1 },
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
          maxWorkers,
          sequence: { groupOrder: 0 },
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
          sequence: { groupOrder: 2 },
        },
      },
    ],
  },
})
