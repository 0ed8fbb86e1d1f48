import { plainWords } from './set-up-key.ts'

/** Surfaces people call by a name of the ground. */
const GROUND =
  /\b(floor|floors|ground|carpet|rug|tiles?|lino(leum)?|laminate|parquet|concrete|pavement|lawn|grass|yoga mat|rubber mat)\b/
/** Words that make a surface on the ground one that gives or tips. */
const GIVES =
  /\b(foam|pad|cushion|pillow|mattress|bed|disc|disk|dome|ball|peanut|bone|board|wobble|rocker|tilt|balanc\w*|inflat\w*|air|trampoline|donut|roll|wobbl\w*|tilting|rocking|spring)(e?s|y)?\b/

/** What is said or read of a surface: whether its first weeks are familiarisation, and why. */
export interface SurfaceWord {
  readonly familiarisation: boolean
  readonly basis: string
}

const LEARNING =
  'dogs learn a moving surface, so the first three weeks on it are set aside as familiarisation'

/**
 * Whether the first weeks on a surface are familiarisation. Unstable counts what was noted; where nobody noted
 * it, every surface whose name does not read as plain ground, since taking learning for steadiness is the worse
 * mistake.
 */
export function surfaceWord(surface: string, unstable: boolean | undefined, familiar: boolean): SurfaceWord {
  if (unstable === false) {
    return { familiarisation: false, basis: 'Noted as a surface that does not give: no familiarisation.' }
  }
  const name = plainWords(surface)
  const readsAsGround = unstable === undefined && GROUND.test(name) && !GIVES.test(name)
  if (readsAsGround) {
    return {
      familiarisation: false,
      basis: 'Nobody noted whether it gives; its name reads as plain ground, so there is no familiarisation.',
    }
  }
  if (familiar) {
    return {
      familiarisation: false,
      basis: 'Somebody said that the dog knew this surface before the first session: no familiarisation.',
    }
  }
  return {
    familiarisation: true,
    basis:
      unstable === true
        ? `Noted as a surface that gives or tips: ${LEARNING}.`
        : `Nobody noted whether it gives; taken as one that does: ${LEARNING}.`,
  }
}
