const FORBIDDEN = /[\u0000-\u0008\u000B\u000C\u000E-\u001F]/g

/**
 * Text as a FHIR string: without control characters but tab and line breaks; null when nothing but white space is
 * left, as such a string must not be written (HL7 FHIR R5, Data types, string).
 */
export function fhirText(text: string | null | undefined): string | null {
  const allowed = text?.replace(FORBIDDEN, '') ?? ''
  return allowed.trim() === '' ? null : allowed
}
