export const RESOURCES: readonly string[]
export const SCHEMA_SHA256: string
/** The committed files, by name, made from the unpacked package. */
export function trimmed(packageDir: string): Record<string, string>
