export function pythonWithScipy(): string | null
