import type { LayoutProblem } from './layout-problem.ts'
import type { SchemaNode } from './schema-node.ts'

/**
 * Where a value departs from a schema: every place, not only the first, in the order of the schema. A
 * property that is undefined counts as absent; numbers must be finite.
 *
 * @param path of the value, empty for the whole
 */
export function structureProblems(value: unknown, schema: SchemaNode, path = ''): LayoutProblem[] {
  if (schema.anyOf) {
    const fits = schema.anyOf.some((option) => structureProblems(value, option, path).length === 0)
    return fits ? [] : [mismatch(value, schema, path)]
  }
  if (schema.enum && !schema.enum.includes(value as string | number)) return [mismatch(value, schema, path)]
  if (schema.const !== undefined && value !== schema.const) return [mismatch(value, schema, path)]
  if (schema.type === undefined) return []
  if (!hasType(value, schema.type)) return [mismatch(value, schema, path)]
  if (schema.type === 'object') return objectProblems(value as Record<string, unknown>, schema, path)
  if (schema.type === 'array') return arrayProblems(value as readonly unknown[], schema, path)
  const fits = typeof value === 'string' ? textFits(value, schema) : numberFits(value as number, schema)
  return fits ? [] : [mismatch(value, schema, path)]
}

function hasType(value: unknown, type: NonNullable<SchemaNode['type']>): boolean {
  if (type === 'array') return Array.isArray(value)
  if (type === 'object') return typeof value === 'object' && value !== null && !Array.isArray(value)
  if (type === 'string') return typeof value === 'string'
  return type === 'integer' ? Number.isInteger(value) : Number.isFinite(value)
}

function textFits(text: string, { pattern, minLength = 0, maxLength = Infinity }: SchemaNode): boolean {
  // JSON Schema counts characters, not UTF-16 units.
  const length = [...text].length
  return (
    length >= minLength &&
    length <= maxLength &&
    (pattern === undefined || new RegExp(pattern, 'u').test(text))
  )
}

function numberFits(value: number, schema: SchemaNode): boolean {
  const { minimum = -Infinity, maximum = Infinity, exclusiveMinimum = -Infinity } = schema
  return value >= minimum && value <= maximum && value > exclusiveMinimum
}

function arrayProblems(list: readonly unknown[], schema: SchemaNode, path: string): LayoutProblem[] {
  const { minItems = 0, maxItems = Infinity, items } = schema
  if (list.length < minItems || list.length > maxItems) {
    return [
      {
        kind: 'structure',
        path,
        message: `${nameOf(path)} has ${list.length} entries`,
        remedy: `Give ${schema.description}.`,
      },
    ]
  }
  return items ? list.flatMap((item, i) => structureProblems(item, items, `${path}[${i}]`)) : []
}

function objectProblems(record: Record<string, unknown>, schema: SchemaNode, path: string): LayoutProblem[] {
  const { properties = {}, required = [] } = schema
  const inside = (name: string) => (path === '' ? name : `${path}.${name}`)
  const problems: LayoutProblem[] = []
  for (const [name, property] of Object.entries(properties)) {
    const value = Object.hasOwn(record, name) ? record[name] : undefined
    if (value !== undefined) problems.push(...structureProblems(value, property, inside(name)))
    else if (required.includes(name)) {
      problems.push({
        kind: 'structure',
        path: inside(name),
        message: `${inside(name)} is missing`,
        remedy: `Give ${property.description}.`,
      })
    }
  }
  for (const name of Object.keys(record)) {
    if (Object.hasOwn(properties, name)) continue
    problems.push({
      kind: 'structure',
      path: inside(name),
      message: `${inside(name)} is no field of a layout`,
      remedy: `Remove it, or use one of ${Object.keys(properties).join(', ')}.`,
    })
  }
  return problems
}

function mismatch(value: unknown, schema: SchemaNode, path: string): LayoutProblem {
  return {
    kind: 'structure',
    path,
    message: `${nameOf(path)} is ${shown(value)}`,
    remedy: `Give ${schema.description}.`,
  }
}

function nameOf(path: string): string {
  return path === '' ? 'the layout' : path
}

function shown(value: unknown): string {
  if (value === null) return 'null'
  if (Array.isArray(value)) return 'a list'
  if (typeof value === 'object') return 'an object'
  const text = typeof value === 'string' ? `"${value}"` : String(value)
  return text.length > 60 ? `${text.slice(0, 57)}…` : text
}
