export const root: string
/** Installs and builds what is missing; ends the process with a clear message when that fails. */
export function prepare(options: { dashboard: boolean }): void
