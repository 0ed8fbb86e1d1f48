import globals from 'globals'
import svelte from 'eslint-plugin-svelte'
import ts from 'typescript-eslint'

/** Forbids imports by pattern; `message` says which way imports point. */
const forbid = (group, message) => ({
  'no-restricted-imports': ['error', { patterns: [{ group, message }] }],
})

export default ts.config(
  { ignores: ['dist/', 'node_modules/', 'tests/browser/screenshots/'] },
  ...ts.configs.recommended,
  ...svelte.configs.recommended,
  {
    rules: {
      eqeqeq: 'error',
      // One $props() or one function may give constants and others together.
      'prefer-const': ['error', { destructuring: 'all' }],
      'no-console': 'error',
      '@typescript-eslint/consistent-type-imports': ['error', { fixStyle: 'separate-type-imports' }],
      '@typescript-eslint/no-explicit-any': 'error',
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_' }],
      'no-undef': 'off', // the type checker does this
    },
  },
  {
    files: ['**/*.svelte', '**/*.svelte.ts'],
    languageOptions: { globals: globals.browser, parserOptions: { parser: ts.parser } },
  },
  {
    // Terminal programs talk on the console.
    files: ['**/*.mjs', 'server/cli/**', 'sample-traces/*.ts', 'tests/bench/**', 'tests/soak/soak.ts'],
    rules: { 'no-console': 'off' },
  },
  {
    files: ['signal/**/*.ts'],
    rules: forbid(
      ['#server/*', '#protocol/*', 'node:*', '**/server/**', '**/dashboard/**', '**/tests/**'],
      'signal/ imports nothing of ours and no platform: pure functions only.',
    ),
  },
  {
    files: ['server/**/*.ts'],
    rules: forbid(
      ['**/dashboard/**', '**/tests/**', '**/signal/**', '!#signal/**'],
      'server/ imports signal/ (as #signal/*) and packages only.',
    ),
  },
  {
    files: ['server/protocol/**/*.ts'],
    rules: forbid(
      ['#server/*', 'node:*', '../*', 'fastify'],
      'server/protocol/ runs in the browser too: only typebox and signal types.',
    ),
  },
  {
    files: ['dashboard/**/*.ts', 'dashboard/**/*.svelte'],
    ignores: ['dashboard/vite.config.ts'],
    rules: forbid(
      ['#server/*', 'node:*', '**/server/**', '**/tests/**'],
      'dashboard/ imports signal/ and server/protocol/ (as #protocol/*) only.',
    ),
  },
)
