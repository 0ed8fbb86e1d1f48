/**
 * Makes the committed files of this folder from the package hl7.fhir.r5.core 5.0.0 (CC0-1.0):
 *   node tests/reference/fhir/trim.mjs <folder of the unpacked package>
 * fhir.schema.trimmed.json: of package/openapi/fhir.schema.json what is reachable from Bundle when the only
 * resources are those we write; descriptions left out. required-codes.json: the codes of every required
 * binding of these resources whose value set takes a whole code system, from the StructureDefinitions.
 */
import { createHash } from 'node:crypto'
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'

export const RESOURCES = ['Bundle', 'Patient', 'Device', 'Observation']
/** Of package/openapi/fhir.schema.json. */
export const SCHEMA_SHA256 = 'e865a3f40d9949c72da906ee3d89ae4c7066be27fd8a258cae80705e08e4d1b7'

/** The two files as text. */
export function trimmed(packageDir) {
  const source = readFileSync(join(packageDir, 'openapi/fhir.schema.json'))
  const hash = createHash('sha256').update(source).digest('hex')
  if (hash !== SCHEMA_SHA256) throw new Error(`fhir.schema.json is another one: ${hash}`)
  return {
    'fhir.schema.trimmed.json': `${JSON.stringify(reachable(JSON.parse(source.toString())), null, 1)}\n`,
    'required-codes.json': `${JSON.stringify(requiredCodes(packageDir), null, 1)}\n`,
  }
}

function reachable({ $schema, id, definitions }) {
  const kept = {}
  const all = {
    ...definitions,
    ResourceList: { oneOf: RESOURCES.map((name) => ({ $ref: `#/definitions/${name}` })) },
  }
  const take = (name) => {
    if (kept[name]) return
    kept[name] = withoutDescriptions(all[name])
    for (const [, other] of JSON.stringify(all[name]).matchAll(/"#\/definitions\/([^"]+)"/g)) take(other)
  }
  take('Bundle')
  return {
    $schema,
    id,
    $ref: '#/definitions/Bundle',
    definitions: Object.fromEntries(Object.entries(kept).sort(([a], [b]) => (a < b ? -1 : 1))),
  }
}

function withoutDescriptions(value) {
  if (Array.isArray(value)) return value.map(withoutDescriptions)
  if (value === null || typeof value !== 'object') return value
  return Object.fromEntries(
    Object.entries(value)
      // A property may have this name; only the text goes.
      .filter(([key, inner]) => key !== 'description' || typeof inner !== 'string')
      .map(([key, inner]) => [key, withoutDescriptions(inner)]),
  )
}

function requiredCodes(packageDir) {
  const read = (name) => JSON.parse(readFileSync(join(packageDir, name), 'utf8'))
  const codes = {}
  for (const resource of RESOURCES) {
    for (const { path, binding } of read(`StructureDefinition-${resource}.json`).snapshot.element) {
      if (binding?.strength !== 'required') continue
      const name = binding.valueSet.split('|')[0].split('/').at(-1)
      let include
      try {
        include = read(`ValueSet-${name}.json`).compose.include
      } catch (error) {
        // Languages and media types: value sets of other standards.
        if (error.code === 'ENOENT') continue
        throw error
      }
      const whole = include.every(({ concept, filter, valueSet }) => !concept && !filter && !valueSet)
      if (!whole) continue
      const systems = include.map(({ system }) => system.split('/').at(-1))
      try {
        codes[path] = systems.flatMap((system) => codesOf(read(`CodeSystem-${system}.json`).concept ?? []))
      } catch (error) {
        if (error.code !== 'ENOENT') throw error
      }
    }
  }
  return codes
}

function codesOf(concepts) {
  return concepts.flatMap(({ code, concept }) => [code, ...codesOf(concept ?? [])])
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  for (const [name, text] of Object.entries(trimmed(process.argv[2]))) {
    writeFileSync(new URL(name, import.meta.url), text)
  }
}
