export function fhirPackage(): string | null
