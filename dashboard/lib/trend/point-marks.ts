import type { TrendPart } from '#signal/trend/trend-sessions'

/** Path data of a session's point: each part has a shape of its own, so that colour is not needed. */
export function pointMark(part: TrendPart, x: number, y: number, size: number): string {
  const at = `M${x.toFixed(1)} ${y.toFixed(1)}`
  const s = size
  switch (part) {
    case 'baseline':
      return `${at}m${-s} ${-s}h${2 * s}v${2 * s}h${-2 * s}z`
    case 'newest':
      return `${at}m0 ${-1.5 * s}l${1.5 * s} ${2.6 * s}h${-3 * s}z`
    case 'left out':
      return `${at}m${-s} ${-s}l${2 * s} ${2 * s}m0 ${-2 * s}l${-2 * s} ${2 * s}`
    case 'later':
    case 'familiarisation':
      return `${at}m${-s} 0a${s} ${s} 0 1 0 ${2 * s} 0a${s} ${s} 0 1 0 ${-2 * s} 0`
  }
}
