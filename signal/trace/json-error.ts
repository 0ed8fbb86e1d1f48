const TOKEN =
  /[\s]*(?:([{}[\],:])|("(?:[^"\\\u0000-\u001f]|\\["\\/bfnrtu])*")|(-?\d[\d.eE+-]*|true|false|null))/y

/**
 * Offset at which a text stops being JSON: where no token can be read, or a token does not fit its
 * place; the length of the text when it merely ends too early. Engines tell the place in different
 * ways or not at all, so it is found again here, only after `JSON.parse` has refused the text.
 */
export function jsonErrorOffset(text: string): number {
  const open: string[] = []
  let previous = ''
  let at = 0
  while (at < text.length) {
    TOKEN.lastIndex = at
    const match = TOKEN.exec(text)
    if (match === null) return at + (/^\s*/.exec(text.slice(at)) as RegExpExecArray)[0].length
    const token = match[1] ?? (match[2] !== undefined ? 'text' : 'value')
    const start = TOKEN.lastIndex - (match[1] ?? match[2] ?? match[3]).length
    if (!fits(token, previous, open)) return start
    if (token === '{' || token === '[') open.push(token)
    if (token === '}' || token === ']') open.pop()
    previous = token
    at = TOKEN.lastIndex
  }
  return text.length
}

/** Whether a token may follow another one; `open` are the brackets around it, innermost last. */
function fits(token: string, previous: string, open: readonly string[]): boolean {
  const inside = open.at(-1)
  const endsValue = ['text', 'value', '}', ']'].includes(previous)
  switch (token) {
    case '}':
      return inside === '{' && (endsValue || previous === '{')
    case ']':
      return inside === '[' && (endsValue || previous === '[')
    case ',':
      return inside !== undefined && endsValue
    case ':':
      return inside === '{' && previous === 'text'
    default:
      return !endsValue && (previous === '' || inside !== undefined)
  }
}
