/** The part of JSON Schema (2020-12) that the layout's schema uses, and `structureProblems` understands. */
export interface SchemaNode {
  readonly type?: 'object' | 'array' | 'string' | 'number' | 'integer'
  /** What belongs here, in plain words: also the remedy of a problem. */
  readonly description?: string
  readonly properties?: Readonly<Record<string, SchemaNode>>
  readonly required?: readonly string[]
  readonly additionalProperties?: false
  readonly items?: SchemaNode
  readonly minItems?: number
  readonly maxItems?: number
  readonly enum?: readonly (string | number)[]
  readonly const?: string | number
  readonly anyOf?: readonly SchemaNode[]
  readonly pattern?: string
  readonly minLength?: number
  readonly maxLength?: number
  readonly minimum?: number
  readonly maximum?: number
  readonly exclusiveMinimum?: number
}
