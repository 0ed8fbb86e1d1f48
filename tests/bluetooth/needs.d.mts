export function pythonWithDbus(): string | null
export function hasDbusDaemon(): boolean
