import type { Dog } from '#protocol/resources'
import { height, weight } from './format'
import type { BodyUnits } from './format'

/** "Lurcher, 27 kg, 68 cm at the withers, born 2016": what is known of a dog; empty when nothing is. */
export function dogWords(
  { breed, weightKg, withersCm, bornYear }: Pick<Dog, 'breed' | 'weightKg' | 'withersCm' | 'bornYear'>,
  units: BodyUnits,
): string {
  return [
    breed,
    weightKg !== null ? weight(weightKg, units) : null,
    withersCm !== null ? `${height(withersCm, units)} at the withers` : null,
    bornYear !== null ? `born ${bornYear}` : null,
  ]
    .filter(Boolean)
    .join(', ')
}
