/**
 * Writes the numbers behind the pictures of "What the numbers mean" anew:
 * node --conditions=source --import tsx tests/helpers/make-number-pictures.ts
 */
import { writeFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { format } from 'prettier'
import { numberPictures } from '../../dashboard/lib/numbers/example-pictures.ts'

const file = fileURLToPath(new URL('../../dashboard/lib/numbers/pictures.json', import.meta.url))
writeFileSync(file, await format(JSON.stringify(numberPictures()), { filepath: file, printWidth: 110 }))
