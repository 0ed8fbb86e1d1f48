export function hasOpenssl(): boolean
