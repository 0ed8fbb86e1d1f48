import ts from 'typescript'

/** One import or re-export of a source file. */
export interface Import {
  readonly specifier: string
  /** True when nothing of it is left after compiling. */
  readonly typeOnly: boolean
  readonly line: number
}

/** Every import, re-export, `import()` and `import('…').Type` of a TypeScript, JavaScript or Svelte file. */
export function readImports(path: string, text: string): Import[] {
  return path.endsWith('.svelte')
    ? scriptsOf(text).flatMap(({ script, line }) => importsOf(path, script, line))
    : importsOf(path, text, 0)
}

function scriptsOf(text: string): { script: string; line: number }[] {
  return [...text.matchAll(/<script\b[^>]*>([\s\S]*?)<\/script>/g)].map((match) => {
    const start = match.index + match[0].indexOf(match[1], match[0].indexOf('>') + 1)
    return { script: match[1], line: text.slice(0, start).split('\n').length - 1 }
  })
}

function importsOf(path: string, text: string, lineOffset: number): Import[] {
  const file = ts.createSourceFile(path, text, ts.ScriptTarget.Latest, true, ts.ScriptKind.TS)
  const imports: Import[] = []
  const add = (node: ts.Node, specifier: ts.Node | undefined, typeOnly: boolean) => {
    if (!specifier || !ts.isStringLiteralLike(specifier)) return
    const { line } = file.getLineAndCharacterOfPosition(node.getStart(file))
    imports.push({ specifier: specifier.text, typeOnly, line: line + 1 + lineOffset })
  }
  const visit = (node: ts.Node): void => {
    if (ts.isImportDeclaration(node)) add(node, node.moduleSpecifier, isTypeImport(node))
    else if (ts.isExportDeclaration(node)) add(node, node.moduleSpecifier, isTypeExport(node))
    else if (ts.isCallExpression(node) && node.expression.kind === ts.SyntaxKind.ImportKeyword)
      add(node, node.arguments[0], false)
    else if (ts.isCallExpression(node) && isRequire(node)) add(node, node.arguments[0], false)
    else if (ts.isImportTypeNode(node) && ts.isLiteralTypeNode(node.argument))
      add(node, node.argument.literal, true)
    ts.forEachChild(node, visit)
  }
  visit(file)
  return imports
}

function isTypeImport({ importClause: clause }: ts.ImportDeclaration): boolean {
  if (!clause) return false
  if (clause.phaseModifier === ts.SyntaxKind.TypeKeyword) return true
  const { name, namedBindings } = clause
  if (name || !namedBindings || !ts.isNamedImports(namedBindings)) return false
  return namedBindings.elements.length > 0 && namedBindings.elements.every((element) => element.isTypeOnly)
}

function isTypeExport({ isTypeOnly, exportClause }: ts.ExportDeclaration): boolean {
  if (isTypeOnly) return true
  if (!exportClause || !ts.isNamedExports(exportClause)) return false
  return exportClause.elements.length > 0 && exportClause.elements.every((element) => element.isTypeOnly)
}

function isRequire({ expression }: ts.CallExpression): boolean {
  return ts.isIdentifier(expression) && expression.text === 'require'
}
