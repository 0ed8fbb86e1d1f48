/** Filled in by the build, out of package.json. */
declare const __SWAYBOOK_VERSION__: string | undefined

export const VERSION = typeof __SWAYBOOK_VERSION__ === 'undefined' ? '(not built)' : __SWAYBOOK_VERSION__
