/** Offers a text as a file to save. */
export function saveText(text: string, fileName: string, type: string): void {
  const url = URL.createObjectURL(new Blob([text], { type: `${type};charset=utf-8` }))
  const link = document.createElement('a')
  link.href = url
  link.download = fileName
  link.click()
  // The download has taken the blob by the next turn.
  setTimeout(() => URL.revokeObjectURL(url), 0)
}
