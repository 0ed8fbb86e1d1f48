/** False where this page may not use the clipboard. */
export async function copyText(text: string): Promise<boolean> {
  try {
    await navigator.clipboard.writeText(text)
    return true
  } catch {
    // Refused, or not served securely: the caller says what to do instead.
    return false
  }
}
