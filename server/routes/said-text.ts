/** Text of an optional field as it was typed; null where nothing but blanks was. */
export function saidText(text: string | null): string | null {
  return text !== null && /\S/.test(text) ? text : null
}

type Text<Name extends string> = { readonly [Field in Name]?: string | null }

/** With blank text of the optional fields `names` as nothing said; what is left out stays left out. */
export function withSaidText<T extends Text<Name>, Name extends string>(body: T, ...names: Name[]): T {
  const said = names.flatMap((name) => {
    const text = body[name]
    return text === undefined ? [] : [[name, saidText(text)]]
  })
  return { ...body, ...Object.fromEntries(said) }
}
