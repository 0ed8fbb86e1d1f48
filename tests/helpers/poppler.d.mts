export function hasPoppler(): boolean
